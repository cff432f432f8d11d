package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/design"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// realisation is everything about one rate in one number format.
func realisation(p *page, b *compiler.Build, d compiler.Digital) {
	figures := verify.Of(b.Figures, d.Name())
	head := fmt.Sprintf("%s %s, method %s", words.Rate(d.RateHz), d.Format.Name, d.Method)
	p.heading(head + shift(d.CommonDelayS))
	p.note(topOctave(b, d, figures))
	departures(p, figures)
	p.line("")
	levels(p, figures)
	dither(p, d)
	worstSettings(p, figures)
	changes(p, d)
}

// dither tells its share of the noise.
func dither(p *page, d compiler.Digital) {
	if bits, alone, all, ok := d.Dither(); ok {
		p.note(fmt.Sprintf("Noise contains the rounding to the converters' words of %d bits with triangular dither: %s, of that the dither alone %s.",
			bits, words.Level(all, "dBFS"), words.Level(alone, "dBFS")))
	}
}

// changes is what is heard of each change of a setting, where it was simulated.
func changes(p *page, d compiler.Digital) {
	if d.Changes == nil {
		return
	}
	p.line("")
	var t words.Table
	t.Row("change of setting", "click", "level")
	for _, c := range d.Changes.Each {
		t.Row(fmt.Sprintf("%s: %s to %s", c.Setting, c.From, c.To), words.Level(c.ClickDB, "dB"), words.Level(c.LevelDB+0, "dB"))
	}
	p.table(&t)
	p.note(fmt.Sprintf("Settings change after %s unheard, in a fade of %s. Click: the peak above 1 kHz at any output, re a full-scale sine of "+
		"60 Hz at the input. Level: the greatest re the louder of before and after, sines of 60 Hz and 1 kHz. Both whenever in the sine's "+
		"period the change comes, by the bit-true simulation, the other settings at their first choice.", words.Seconds(d.Changes.SettleS), words.Seconds(d.Changes.FadeS)))
	if fade := d.Changes.QuietFadeS; fade > 0 {
		p.note(fmt.Sprintf("With `fade: %s` no click is above %s: that was tried.", words.Seconds(fade), words.Level(compiler.LoudestClickDB, "dB")))
	}
}

// topOctave says plainly what is left of the treble.
func topOctave(b *compiler.Build, d compiler.Digital, figures []verify.Figures) string {
	_, hi, cut := b.Promises.Band(d.RateHz)
	span := fmt.Sprintf("top octave, %s to %s", words.Hz(hi/2), words.Hz(hi))
	if cut {
		span += fmt.Sprintf(" (%s of the rate, the limit of the checks)", words.Exact(verify.TopOfRate))
	}
	way, worst := verify.WorstTopOctave(figures)
	if !worst.Known {
		return span + ": no way reaches it"
	}
	return fmt.Sprintf("%s: worst error %s, %s at %s", span, words.DB.Signed(worst.Value), way, words.Hz(worst.AtHz))
}

// departures is how far every way is from its prototype, in a table.
func departures(p *page, figures []verify.Figures) {
	var t words.Table
	t.Row("error", "magnitude", "at", "top octave", "at", "phase", "at", "group delay")
	for _, f := range figures {
		mag, magAt := place(f.Magnitude, words.DB)
		top, topAt := place(f.TopOctave, words.DB)
		phase, phaseAt := place(f.Phase, words.Deg)
		delay, _ := place(f.GroupDelay, words.Second)
		t.Row(f.Way, mag, magAt, top, topAt, phase, phaseAt, delay)
	}
	p.table(&t)
}

// levels is what each way does to a full-scale signal and what it costs.
func levels(p *page, figures []verify.Figures) {
	var t words.Table
	t.Row("output", "sine peak", "at", "L1 bound", "noise", "pole margin", "latency", "sections")
	for _, f := range figures {
		if f.Way == verify.SumName {
			continue
		}
		peak, peakAt := place(f.Peak, words.DBFS)
		noise, _ := place(f.NoiseDBFS, words.DBFS)
		t.Row(f.Way, peak, peakAt, words.Level(f.L1DBFS, "dBFS"), noise, words.Three(f.PoleMargin),
			words.Seconds(f.LatencyS), strconv.Itoa(f.Sections))
	}
	p.table(&t)
}

// place is an extreme's value and frequency cells.
func place(e verify.Extreme, unit words.Unit) (value, hz string) {
	if !e.Known {
		return "-", "-"
	}
	return unit.Signed(e.Value), at(e.AtHz)
}

// worstSettings names the settings that the worst figures belong to, figures
// with the same settings together.
func worstSettings(p *page, figures []verify.Figures) {
	for _, f := range figures {
		magnitude := "magnitude"
		if f.Way == verify.SumName {
			magnitude = "level"
		}
		var texts []string
		names := map[string][]string{}
		for _, x := range []struct {
			name string
			e    verify.Extreme
		}{{magnitude, f.Magnitude}, {"top octave", f.TopOctave}, {"phase", f.Phase}, {"group delay", f.GroupDelay},
			{"sine peak", f.Peak}, {"noise", f.NoiseDBFS}, {"noise", f.NoiseV}, {"A-weighted noise", f.NoiseAV},
			{"DC offset", f.OffsetV}, {"clips from", f.OverdriveDB}} {
			if !x.e.Known || len(x.e.With) == 0 {
				continue
			}
			s := verify.Choices(x.e.With)
			if names[s] == nil {
				texts = append(texts, s)
			}
			names[s] = append(names[s], x.name)
		}
		if len(texts) == 0 {
			continue
		}
		for i, s := range texts {
			texts[i] = words.List(names[s]) + " with " + s
		}
		p.item(fmt.Sprintf("worst of %s: %s", f.Way, strings.Join(texts, "; ")), "  ", "    ")
	}
}

// crossovers says what the crossovers alone sum to.
func crossovers(p *page, b *compiler.Build) {
	if len(b.Sums) == 0 {
		return
	}
	p.heading("Ideal sum of the crossovers alone, with the spec's polarities")
	var t words.Table
	t.Row("", "phase-compensation", "minimum", "at", "maximum", "at")
	at := func(db, hz float64) string {
		if math.Abs(db) < 0.005 { // reads 0 dB
			return "-"
		}
		return words.Hz(hz)
	}
	row := func(what, compensation string, e design.Extremes) {
		t.Row(what, compensation, words.Level(e.LowDB, "dB"), at(e.LowDB, e.LowHz), words.Level(e.HighDB, "dB"), at(e.HighDB, e.HighHz))
	}
	for _, x := range b.Pairs {
		row(x.Lower+" and "+x.Upper, "", x.Extremes)
	}
	for _, s := range b.Sums {
		compensation := s.Compensation
		if s.Chosen {
			compensation += ", as in this spec"
		}
		if len(b.Sums) > 1 || len(b.Prototype.Ways) > 2 {
			row("all ways", compensation, s.Extremes)
		}
	}
	p.table(&t)
}

// input says what the attenuation at the input asks of the analog side.
func input(p *page, b *compiler.Build) {
	for _, d := range b.Digital {
		if db := -biquad.GainDB(d.InputGain); math.Abs(db) > 1e-9 {
			p.heading("Make-up gain")
			p.note(fmt.Sprintf("The input is attenuated by %s dB (digital.headroom), excluded from the errors above: "+
				"add %s dB of analog make-up gain after the converters.", words.Short(db), words.Short(db)))
			return
		}
	}
}

func warnings(p *page, b *compiler.Build) {
	if len(b.Warnings) == 0 {
		return
	}
	p.heading("Warnings")
	for _, w := range b.Warnings {
		s := w.Message
		if w.Pos.Line > 0 {
			s = fmt.Sprintf("line %d: %s", w.Pos.Line, s)
		}
		p.item(s, "  * ", "    ")
		if w.Right != "" {
			p.item(w.Right, "    ", "    ")
		}
	}
}

package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/brief"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// air is what drivers and amplifiers make of it.
func air(p *page, b *compiler.Build) {
	a := b.Air
	if a == nil {
		return
	}
	p.heading("In the air: drivers and amplifiers, a small-signal model at 1 m in free field")
	drivers(p, a)
	strains(p, a)
	limits(p, a)
	loudness(p, a)
	inSettings(p, a)
	offAxis(p, a)
	if text := brief.OnePlace(b); text != "" {
		p.note(text)
	}
	reflections(p, a)
	coils(p, a)
	for _, w := range a.System.Ways {
		for _, n := range w.Notes {
			p.note(w.Name + ": " + n)
		}
	}
	p.note("Levels, volts, amperes and excursion are for the largest sine at the input (RMS; excursion is peak, to one side, from 5 Hz). " +
		"Not in the model: break-up of cones, heat, what changes with level, the room. A piston's " +
		"pattern is that of a flat one.")
}

// drivers is what the ways drive.
func drivers(p *page, a *compiler.Air) {
	var t words.Table
	t.Row("way", "resonance", "Q", "least load", "may move", "amplifier gives", "beams from", "figure of eight to")
	dash := func(known bool, text string) string {
		if !known {
			return "-"
		}
		return text
	}
	for k := range a.System.Ways {
		w := &a.System.Ways[k]
		if w.Source == nil {
			continue
		}
		hz, q, boxed := 0.0, 0.0, false
		if m, ok := w.Source.(*acoustic.Mounted); ok {
			hz, q, boxed = m.Resonance()
		}
		ohm, _ := a.LeastOhm(k)
		beams, eight := "-", "-"
		for _, x := range a.Patterns {
			if x.Way != w.Name {
				continue
			}
			beams = words.Hz(words.Round(x.BeamsHz, 3))
			if x.EightToHz > 0 && !math.IsInf(x.EightToHz, 1) {
				eight = words.Hz(words.Round(x.EightToHz, 3))
			}
		}
		t.Row(w.Name, dash(boxed, words.Hz(words.Round(hz, 3))), dash(boxed, words.Short(q)), dash(ohm > 0, words.Short(ohm)+" ohm"), dash(w.LimitM() > 0, words.Short(w.LimitM()*1e3)+" mm"),
			dash(w.LimitV > 0, words.Short(w.LimitV)+" V, "+words.Short(w.LimitA)+" A"), beams, eight)
	}
	p.table(&t)
}

// strains are what each realisation asks of drivers and amplifiers at full scale.
func strains(p *page, a *compiler.Air) {
	p.line("")
	var worst *acoustic.Heard
	t := words.Table{Names: 2}
	t.Row("", "way", "excursion", "at", "volts", "at", "amperes", "at")
	for _, h := range a.Heard {
		for k, w := range h.Ways {
			if a.System.Ways[k].Source == nil {
				continue
			}
			cell := func(e verify.Extreme, times float64, unit string) string {
				if !e.Known {
					return "-"
				}
				return words.Three(e.Value*times) + " " + unit
			}
			t.Row(strings.TrimPrefix(h.Realisation, "digital "), w.Way, cell(w.Excursion, 1e3, "mm"), at(w.Excursion.AtHz), cell(w.Volts, 1, "V"), at(w.Volts.AtHz),
				cell(w.Amperes, 1, "A"), at(w.Amperes.AtHz))
		}
		if h.Sum.Known && (worst == nil || math.Abs(h.Sum.Value) > math.Abs(worst.Sum.Value)) {
			worst = h
		}
	}
	p.table(&t)
	if worst != nil {
		p.note(fmt.Sprintf("All ways on the axis depart most from their mean level from %s to %s in %s, without what settings do before the ways split: %s at %s%s.",
			words.Hz(words.Round(worst.SumLowHz, 3)), words.Hz(words.Round(worst.SumHighHz, 3)), worst.Realisation, words.Level(worst.Sum.Value, "dB"),
			words.Hz(words.Round(worst.Sum.AtHz, 3)), with(worst.Sum)))
	}
}

// with names the settings of an extreme.
func with(e verify.Extreme) string {
	if len(e.With) == 0 {
		return ""
	}
	return ", with " + verify.Choices(e.With)
}

// loudness is the level over frequency in the default setting of the prototype.
func loudness(p *page, a *compiler.Air) {
	h := a.Heard[0]
	p.line("")
	var t words.Table
	t.Row("prototype, default setting", "on the axis", "at most", "limited by", "all directions", "axis above them")
	hz, _ := a.Shown()
	usual := &h.Settings[0]
	for i := 0; i < len(usual.SumDB); i += 3 { // half octaves
		power, index := "-", "-"
		if i < len(usual.PowerDB) {
			power, index = level(usual.PowerDB[i]), words.Level(usual.IndexDB[i], "dB")
		}
		t.Row(words.Hz(words.Round(hz[i], 3)), level(usual.SumDB[i]), level(usual.MaximumDB[i]), usual.By[i], power, index)
	}
	p.table(&t)
}

// level is a sound pressure level to the tenth.
func level(db float64) string { return fmt.Sprintf("%.1f dB", db) }

// reflections are those of the room, of the way that is loudest at each frequency.
func reflections(p *page, a *compiler.Air) {
	if len(a.Reflections) == 0 {
		return
	}
	p.line("")
	var t words.Table
	head, ways := []string{"reflections", "after", "leaves at"}, []string{"of way", "", ""}
	for i, f := range acoustic.RoomHz {
		head, ways = append(head, words.Hz(f)), append(ways, a.System.Ways[a.LoudestAt[i]].Name)
	}
	t.Row(head...)
	t.Row(ways...)
	for _, r := range a.Reflections {
		row := []string{r.Side + ": " + r.Surface, words.Short(r.DelayS*1e3) + " ms", words.Exact(math.Round(r.Degrees)) + " deg"}
		for i := range acoustic.RoomHz {
			db := r.LevelDB[a.LoudestAt[i]]
			if db == nil {
				row = append(row, "-")
				continue
			}
			row = append(row, fmt.Sprintf("%.1f", db[i]))
		}
		t.Row(row...)
	}
	p.table(&t)
	p.note("First reflections are in dB re the direct sound at the listener, by distance and by the way's pattern, from surfaces that are flat and large and take nothing. A cabinet's shadow behind it is not in the model; a - is a pattern that is not known.")
}

// coils is what the board's DC does.
func coils(p *page, a *compiler.Air) {
	var out []string
	for _, d := range a.DC {
		if d.V == 0 {
			continue
		}
		out = append(out, fmt.Sprintf("%s %s, %s, the cone %s mm out", d.Way, words.Volt.Measured(d.V), words.Part(words.Round(d.Watt, 3), "W"), words.Short(d.ExcursionM*1e3)))
	}
	if out != nil {
		p.line("")
		p.note("DC at the coils, of the board's worst offset times the amplifier's gain: " + strings.Join(out, "; "))
	}
}

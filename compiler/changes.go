package compiler

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// Change is what is heard while a setting goes from one choice to another, the other
// settings at their first: the bit-true simulation of the whole change, a
// full-scale tone going in.
type Change struct {
	Setting, From, To string
	// ClickDB is the peak at any output of what lies above 1 kHz, re the tone of
	// 60 Hz that goes in, whenever in the tone's period the change comes.
	ClickDB float64
	// LevelDB is the greatest level at any output re the greater of those before
	// and after, of tones of 60 Hz and 1 kHz, whenever in their period.
	LevelDB float64
}

// Changes are those of one realisation.
type Changes struct {
	SettleS, FadeS float64 // how long new sections run unheard, and the fade
	Each           []Change
	// QuietFadeS is the shortest fade tried with which no click is above LoudestClickDB;
	// 0 where none is anyway, and where no fade that a spec may have does it.
	QuietFadeS float64
}

// LoudestClickDB is what clicks ought to stay below.
const LoudestClickDB = -80

const (
	clickHz = 60   // the tone whose clicks are looked for
	aboveHz = 1000 // where they are heard; also the other tone
	// unheardDB is the level re full scale below which an output has no level.
	unheardDB = -100
	// leadS (s) is how long a tone goes before it is taken for steady: what low filters do when it
	// begins is louder than the little that they let through of a high one.
	leadS = 1
)

// addChanges simulates the changes of settings of the first rate in the shortest
// words that are asked for: every setting goes once through all its choices and
// back to the first. At other rates fades are as long.
func addChanges(b *Build) {
	var d *Digital
	for i := range b.Digital {
		x := &b.Digital[i]
		if x.Asked && x.Laid == nil && (d == nil || x.RateHz == d.RateHz && x.Format.UnitRoundOff > d.Format.UnitRoundOff) {
			d = x
		}
	}
	if d == nil || len(b.Settings) == 0 {
		return
	}
	acts := map[int]bool{}
	for _, a := range d.System.Axes() {
		acts[a.Setting] = true
	}
	var tones [2]*listener
	parallel.Each(len(tones), func(i int) {
		tones[i] = listen(d, b.Settings, b.Spec.Digital.FadeS, []float64{clickHz, aboveHz}[i])
	})
	tours := make([][2][]Change, len(b.Settings))
	parallel.Each(2*len(b.Settings), func(i int) {
		if setting := i / 2; acts[setting] {
			tours[setting][i%2] = tones[i%2].tour(b.Settings, setting)
		}
	})
	out := &Changes{
		SettleS: float64(number.SettleSamples(d.System)) / d.RateHz,
		FadeS:   float64(number.FadeSamples(b.Spec.Digital.FadeS, d.RateHz)) / d.RateHz,
	}
	for _, t := range tours {
		for k, c := range t[0] {
			c.LevelDB = max(c.LevelDB, t[1][k].LevelDB)
			out.Each = append(out.Each, c)
		}
	}
	if len(out.Each) > 0 {
		out.QuietFadeS = quietFade(b, d, out.Each)
		d.Changes = out
	}
}

// mostFade (s) is the longest fade that is tried; a spec may have it.
const mostFade = 0.1

// quietFade tries longer fades, by whole milliseconds and at least a tenth, on the settings whose
// changes click.
func quietFade(b *Build, d *Digital, made []Change) float64 {
	loud := map[string]bool{}
	for _, c := range made {
		if c.ClickDB > LoudestClickDB {
			loud[c.Setting] = true
		}
	}
	if len(loud) == 0 {
		return 0
	}
	for fade := longer(b.Spec.Digital.FadeS); fade <= mostFade; fade = longer(fade) {
		if quietWith(b, d, loud, fade) {
			return fade
		}
	}
	return 0
}

func longer(fadeS float64) float64 { return math.Ceil(float64(fadeS*1.1e3)-1e-9) / 1e3 }

func quietWith(b *Build, d *Digital, loud map[string]bool, fadeS float64) bool {
	tone := listen(d, b.Settings, fadeS, clickHz)
	for i, s := range b.Settings {
		if !loud[s.Name] {
			continue
		}
		for _, c := range tone.tour(b.Settings, i) {
			if c.ClickDB > LoudestClickDB {
				return false
			}
		}
	}
	return true
}

// listener hears a realisation while a full-scale tone goes in, whenever in its period: what comes
// of a tone that began earlier or later is made of what comes of a sine and of a cosine, and the
// most that any gives at a moment is the root of the sum of their squares, up to round-off.
type listener struct {
	parts          [2]part
	hz, rateHz     float64
	at             int // samples so far
	change, steady int // samples of a change, and of what is heard before and after it
	before         []float64
}

// part hears the sine, or the cosine.
type part struct {
	machine *number.Machine
	high    []aboveFilter // of each output
}

// listen hears a tone (Hz) until it is steady, in the default settings: where every tour
// begins.
func listen(d *Digital, settings []verify.Setting, fadeS, hz float64) *listener {
	choices := make([]int, len(settings))
	for i, s := range settings {
		choices[i] = len(s.Choices)
	}
	l := &listener{hz: hz, rateHz: d.RateHz,
		change: number.SettleSamples(d.System) + number.FadeSamples(fadeS, d.RateHz) + number.Tick, steady: int(2 * d.RateHz / clickHz)}
	for i := range l.parts {
		p := &l.parts[i]
		p.machine = d.Format.NewMachine(d.System, d.InputGain, d.RateHz, fadeS, choices)
		for range d.System.Ways {
			p.high = append(p.high, newAboveFilter(d.RateHz))
		}
	}
	l.run(max(l.change+l.steady, int(leadS*d.RateHz)))
	l.before, _ = l.run(l.steady)
	return l
}

// run goes on for n samples: the greatest of each output, and of what lies above 1 kHz.
func (l *listener) run(n int) (peak, above []float64) {
	x := make([]float64, n)
	var level, click [2][][]float64
	for i := range l.parts {
		for k := range x {
			sin, cos := math.Sincos(2 * math.Pi * math.Mod(l.hz/l.rateHz*float64(l.at+k), 1))
			x[k] = []float64{sin, cos}[i]
		}
		level[i], click[i] = l.parts[i].hear(x)
	}
	l.at += n
	for w := range level[0] {
		peak = append(peak, greatest(level[0][w], level[1][w]))
		above = append(above, greatest(click[0][w], click[1][w]))
	}
	return peak, above
}

// hear plays on: every output, and what of it lies above 1 kHz.
func (p *part) hear(x []float64) (level, above [][]float64) {
	for w, y := range p.machine.Run(x) {
		high, over := p.high[w], make([]float64, len(y))
		for k, v := range y {
			over[k] = high.next(v)
		}
		p.high[w] = high
		level, above = append(level, y), append(above, over)
	}
	return level, above
}

// greatest is the greatest root of the sum of two numbers' squares.
func greatest(a, b []float64) float64 {
	most := 0.0
	for k, v := range a {
		most = max(most, float64(v*v)+float64(b[k]*b[k]))
	}
	return math.Sqrt(most)
}

// clone is another listener at the same moment.
func (l *listener) clone() *listener {
	own := *l
	for i, p := range l.parts {
		own.parts[i] = part{p.machine.Clone(), slices.Clone(p.high)}
	}
	return &own
}

// tour goes through the choices of a setting, from where the listener is.
func (l *listener) tour(settings []verify.Setting, setting int) []Change {
	own, before := l.clone(), l.before
	names := settings[setting].Choices
	out := make([]Change, 0, len(names))
	for k := range names {
		to := (k + 1) % len(names)
		c := make(biquad.Combination, len(settings))
		c[setting] = uint8(to)
		for i := range own.parts {
			own.parts[i].machine.Set(c)
		}
		during, above := own.run(l.change)
		after, later := own.run(l.steady)
		x := Change{Setting: settings[setting].Name, From: names[k], To: names[to], ClickDB: math.Inf(-1), LevelDB: math.Inf(-1)}
		for w := range during {
			x.ClickDB = max(x.ClickDB, biquad.GainDB(max(above[w], later[w])))
			if louder := max(before[w], after[w]); biquad.GainDB(louder) > unheardDB {
				x.LevelDB = max(x.LevelDB, biquad.GainDB(during[w]/louder))
			}
		}
		out, before = append(out, x), after
	}
	return out
}

// aboveFilter is a Butterworth high-pass of the fourth order at aboveHz, two
// sections b0·(1 - z⁻¹)²/(1 + a1·z⁻¹ + a2·z⁻²) in the direct form.
type aboveFilter [2]struct{ b0, a1, a2, p, q float64 }

func newAboveFilter(rateHz float64) aboveFilter {
	var f aboveFilter
	k := math.Tan(math.Pi * aboveHz / rateHz)
	for i := range f {
		q := 1 / (2 * math.Sin(math.Pi*float64(2*i+1)/8))
		over := 1 / (1 + k/q + k*k)
		f[i].b0, f[i].a1, f[i].a2 = over, 2*(k*k-1)*over, (1-k/q+k*k)*over
	}
	return f
}

func (f *aboveFilter) next(x float64) float64 {
	for i := range f {
		s := &f[i]
		y := float64(s.b0*x) + s.p
		s.p = s.q + float64(-2*s.b0*x) - float64(s.a1*y)
		s.q = float64(s.b0*x) - float64(s.a2*y)
		x = y
	}
	return x
}

package result

import (
	"maps"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Of is the result of a finished build. Files is empty: whoever emits the
// artefacts fills it in.
func Of(b *compiler.Build) *Result {
	r := &Result{
		Bandwright:    Version,
		Name:          b.Spec.Name,
		Title:         b.Spec.Title,
		Revision:      b.Spec.Revision,
		SpecSHA256:    b.SHA256,
		Inputs:        map[string]string{},
		Files:         map[string]string{},
		Settings:      []Setting{},
		Promises:      limits(b),
		Digital:       []Digital{},
		CrossoverSums: []CrossoverSum{}, CrossoverPairs: []CrossoverPair{},
		Findings: []Finding{},
		Figures:  []Figures{},
		Warnings: []Warning{},
	}
	maps.Copy(r.Inputs, b.Inputs)
	for _, s := range b.Settings {
		r.Settings = append(r.Settings, Setting(s))
	}
	for _, d := range b.Digital {
		r.Digital = append(r.Digital, digital(d, b.Settings))
	}
	r.Board = boardOf(b)
	r.Air = airOf(b)
	for _, s := range b.Sums {
		r.CrossoverSums = append(r.CrossoverSums, CrossoverSum{s.Compensation, words.DB.Floored(s.LowDB), s.LowHz, words.DB.Floored(s.HighDB), s.HighHz, s.Chosen})
	}
	for _, x := range b.Pairs {
		r.CrossoverPairs = append(r.CrossoverPairs, CrossoverPair{x.Lower, x.Upper, words.DB.Floored(x.LowDB), x.LowHz, words.DB.Floored(x.HighDB), x.HighHz})
	}
	for _, f := range b.Findings {
		r.Findings = append(r.Findings, Finding{
			Promise: f.Promise, Realisation: f.Realisation, Way: f.Way, Setting: setting(f.With),
			Limit: f.Limit, Worst: f.Unit.Floored(f.Worst), Unit: f.Unit.String(), AtHz: f.AtHz,
			Kept: f.Kept, Broken: f.Broken, Of: f.Of, Remedy: f.Remedy, Note: f.Note,
		})
	}
	for _, f := range b.Figures {
		r.Figures = append(r.Figures, Figures{
			Realisation: f.Realisation, Way: f.Way,
			MagnitudeDB: extreme(f.Magnitude, words.DB), TopOctaveDB: extreme(f.TopOctave, words.DB), PhaseDeg: extreme(f.Phase, words.Deg),
			GroupDelayS: extreme(f.GroupDelay, words.Second), PeakDBFS: extreme(f.Peak, words.DBFS), L1DBFS: f.L1DBFS,
			NoiseDBFS: extreme(f.NoiseDBFS, words.DBFS), PoleMargin: f.PoleMargin, LatencyS: f.LatencyS, Sections: f.Sections,
			NoiseV: extreme(f.NoiseV, words.Volt), NoiseAV: extreme(f.NoiseAV, words.Volt), OffsetV: extreme(f.OffsetV, words.Volt), ClipV: extreme(f.ClipV, words.Volt),
		})
	}
	for _, w := range b.Warnings {
		r.Warnings = append(r.Warnings, Warning{w.Pos.Line, w.Pos.Col, w.Message, w.Right})
	}
	return r
}

func digital(d compiler.Digital, settings []verify.Setting) Digital {
	common := d.System.Common
	out := Digital{
		RateHz: d.RateHz, Format: d.Format.Name, Asked: d.Asked, Method: d.Method,
		CommonDelayS: d.CommonDelayS, InputGain: d.InputGain, GuardBits: d.Format.GuardBits,
		Common: Common{common.Gain, d.DelaySamples(common), sections(formatOf(&d), common.Slots, settings)},
		Ways:   []Way{},
	}
	if bits, alone, all, ok := d.Dither(); ok {
		out.Dither = &Dither{bits, step(alone, 100), step(all, 100)}
	}
	if c := d.Changes; c != nil {
		out.Changes = &Changes{SettleS: c.SettleS, FadeS: c.FadeS, QuietFadeS: c.QuietFadeS, Each: []Change{}}
		for _, x := range c.Each {
			out.Changes.Each = append(out.Changes.Each, Change{x.Setting, x.From, x.To, step(x.ClickDB, 100), step(x.LevelDB, 100)})
		}
	}
	for _, w := range d.System.Ways {
		out.Ways = append(out.Ways, Way{
			w.Name, w.Gain, int(w.Polarity), d.DelaySamples(w.Cascade), sections(formatOf(&d), w.Slots, settings),
		})
	}
	return out
}

// sections lists every alternative of every position with the settings that
// it belongs to.
func sections(f wholeNumbers, slots []biquad.Slot[biquad.Digital], settings []verify.Setting) []Section {
	out := []Section{}
	for position, s := range slots {
		for _, x := range cover(s) {
			alt := s.Alt[x.alternative]
			direct := alt.To(biquad.Direct)
			section := Section{
				Position: position, Filter: filter(s, x.alternative), When: x.when(s.By, settings),
				B: direct.B, A: direct.A, Feedback: [2]float64{-direct.A[1], -direct.A[2]},
				Form: alt.Form.String(), Words: Words{alt.B, alt.A}, ErrorDB: s.Error.TotalDB,
			}
			if w, ok := f.Integers(alt); ok {
				section.Integers = &Integers{w.BBits, w.B, w.ABits, w.A}
			}
			out = append(out, section)
		}
	}
	return out
}

// formatOf is what a realisation's words are whole numbers of.
func formatOf(d *compiler.Digital) wholeNumbers {
	if d.Laid != nil {
		return d.Laid.Chains[0]
	}
	return d.Format
}

// wholeNumbers tells a section's words as integers; false where they are none.
type wholeNumbers interface {
	Integers(d biquad.Digital) (biquad.Integers, bool)
}

// filter names the spec lines of an alternative.
func filter(s biquad.Slot[biquad.Digital], alternative int) string {
	if len(s.By) > 0 {
		return s.From[alternative]
	}
	return strings.Join(words.Once(s.From), ", ")
}

func setting(choices []verify.Choice) map[string]string {
	m := map[string]string{}
	for _, c := range choices {
		m[c.Setting] = c.Choice
	}
	return m
}

func extreme(e verify.Extreme, unit words.Unit) *Extreme {
	if !e.Known {
		return nil
	}
	return &Extreme{unit.Floored(e.Value), e.AtHz, setting(e.With)}
}

package result

import (
	"math"
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
		Promises:      promises(b.Promises),
		Digital:       []Digital{},
		CrossoverSums: []CrossoverSum{},
		Findings:      []Finding{},
		Figures:       []Figures{},
		Warnings:      []Warning{},
	}
	for _, s := range b.Settings {
		r.Settings = append(r.Settings, Setting(s))
	}
	for _, d := range b.Digital {
		r.Digital = append(r.Digital, digital(d, b.Settings))
	}
	r.Board = boardOf(b)
	if r.Board == nil {
		r.Promises.BoardMagnitudeDB, r.Promises.BoardNoiseDBu, r.Promises.BoardHeadroomDB = nil, nil, nil
	}
	for _, s := range b.Sums {
		r.CrossoverSums = append(r.CrossoverSums, CrossoverSum{s.Compensation, floored(s.LowDB, "dB"), floored(s.HighDB, "dB"), s.Chosen})
	}
	for _, f := range b.Findings {
		r.Findings = append(r.Findings, Finding{
			Promise: f.Promise, Realisation: f.Realisation, Way: f.Way, Setting: setting(f.Setting),
			Limit: f.Limit, Worst: floored(f.Worst, f.Unit), Unit: f.Unit, AtHz: f.AtHz,
			Kept: f.Kept, Broken: f.Broken, Of: f.Of, Remedy: f.Remedy, Note: f.Note,
		})
	}
	for _, f := range b.Figures {
		r.Figures = append(r.Figures, Figures{
			Realisation: f.Realisation, Way: f.Way,
			MagnitudeDB: extreme(f.Magnitude, "dB"), TopOctaveDB: extreme(f.TopOctave, "dB"), PhaseDeg: extreme(f.Phase, "deg"),
			GroupDelayS: extreme(f.GroupDelay, "s"), PeakDBFS: extreme(f.Peak, "dBFS"), L1DBFS: f.L1DBFS,
			NoiseDBFS: extreme(f.NoiseDBFS, "dBFS"), PoleMargin: f.PoleMargin, LatencyS: f.LatencyS, Sections: f.Sections,
			NoiseV: extreme(f.NoiseV, "V"), NoiseAV: extreme(f.NoiseAV, "V"), OffsetV: extreme(f.OffsetV, "V"), ClipV: extreme(f.ClipV, "V"),
		})
	}
	for _, w := range b.Warnings {
		r.Warnings = append(r.Warnings, Warning{w.Pos.Line, w.Pos.Col, w.Message, w.Right})
	}
	return r
}

func promises(p verify.Promises) Promises {
	limit := func(l verify.Limit) *float64 {
		if !l.On {
			return nil
		}
		return &l.Value
	}
	return Promises{
		BandHz: [2]float64{p.LowHz, p.HighHz}, DownToDB: p.DownToDB,
		MagnitudeDB: limit(p.MagnitudeDB), BoardMagnitudeDB: limit(p.BoardMagnitudeDB),
		BoardNoiseDBu: limit(p.BoardNoiseDBu), BoardHeadroomDB: limit(p.BoardHeadroomDB), PhaseDeg: limit(p.PhaseDeg), SumDB: limit(p.SumDB),
		NoiseDBFS: limit(p.NoiseDBFS), HeadroomDB: limit(p.HeadroomDB), LatencyS: limit(p.LatencyS),
	}
}

func digital(d compiler.Digital, settings []verify.Setting) Digital {
	common := d.System.Common
	out := Digital{
		RateHz: d.RateHz, Format: d.Format.Name, Asked: d.Asked, Method: d.Method,
		CommonDelayS: d.CommonDelayS, InputGain: d.InputGain,
		Common: Common{common.Gain, d.DelaySamples(common), sections(common.Slots, settings)},
		Ways:   []Way{},
	}
	for _, w := range d.System.Ways {
		out.Ways = append(out.Ways, Way{
			w.Name, w.Gain, int(w.Polarity), d.DelaySamples(w.Cascade), sections(w.Slots, settings),
		})
	}
	return out
}

// sections lists every alternative of every position with the settings that
// it belongs to.
func sections(slots []biquad.Slot[biquad.Digital], settings []verify.Setting) []Section {
	out := []Section{}
	for position, s := range slots {
		for _, x := range cover(s) {
			alt := s.Alt[x.alternative]
			direct := alt.To(biquad.Direct)
			out = append(out, Section{
				Position: position, Filter: filter(s, x.alternative), When: x.when(s.By, settings),
				B: direct.B, A: direct.A, Feedback: [2]float64{-direct.A[1], -direct.A[2]},
				Form: alt.Form.String(), Words: Words{alt.B, alt.A}, ErrorDB: s.Error.TotalDB,
			})
		}
	}
	return out
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

func extreme(e verify.Extreme, unit string) *Extreme {
	if !e.Known {
		return nil
	}
	return &Extreme{floored(e.Value, unit), e.AtHz, setting(e.Setting)}
}

// floored is an error without the digits that round-off makes of nothing:
// below the floor that people read as "< 1e-9 dB" it is 0.
func floored(x float64, unit string) float64 {
	if (unit == "dB" || unit == "deg") && math.Abs(x) < words.Floor {
		return 0
	}
	return x
}

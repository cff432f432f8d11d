package compiler

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/discretize"
	"bandwright/biquad/number"
	"bandwright/compiler/language"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// delayShare is how much of the phase promise the fraction of a delay may use
// up: a tenth, so that the promise is left for the filters.
const delayShare = 0.1

// What stands in for promises that a spec drops: their defaults, so that a
// realisation is no worse for not being judged.
const (
	defaultMagnitudeDB = 0.1
	defaultSumDB       = 0.1
	defaultPhaseDeg    = 5.0
)

// goalsOf are the promises as goals of a method.
func goalsOf(b *Build) discretize.Goals {
	or := func(l verify.Limit, value float64) float64 {
		if l.On {
			return l.Value
		}
		return value
	}
	g := discretize.Goals{
		MagnitudeDB:  or(b.Promises.MagnitudeDB, defaultMagnitudeDB),
		SumDB:        or(b.Promises.SumDB, defaultSumDB),
		PhaseDeg:     or(b.Promises.PhaseDeg, defaultPhaseDeg),
		ExtraBiquads: b.Spec.Digital.ExtraBiquads,
	}
	g.DelayDeg = g.PhaseDeg * delayShare
	return g
}

// realise makes one digital system a rate, before any rounding to words.
func realise(_ context.Context, b *Build) ([]language.Fault, error) {
	d := b.Spec.Digital
	m, ok := discretize.ByName(d.Method)
	if !ok {
		panic("compiler: the grammar let an unknown method pass: " + d.Method)
	}
	goals := goalsOf(b)
	b.made = make([]discretize.Made, len(d.RatesHz))
	errs := make([]error, len(d.RatesHz))
	parallel.Each(len(d.RatesHz), func(i int) {
		lo, hi, _ := b.Promises.Band(d.RatesHz[i])
		g := goals
		g.DelayToHz = phaseTop(b, lo, hi)
		b.made[i], errs[i] = m.Realise(discretize.Job{
			Prototype: b.Prototype, CommonMethods: b.commonMethods, WayMethods: b.wayMethods,
			RateHz: d.RatesHz[i], LowHz: lo, HighHz: hi, DownToDB: b.Promises.DownToDB,
			Goals: g, SectionBySection: d.SectionBySection,
		})
	})
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return buildBoard(b), nil
}

// phaseTop is, for each way, the highest frequency at which a neighbour is
// within 20 dB of it in any combination of settings, to a sixth of an octave,
// as far down as promises reach.
func phaseTop(b *Build, lo, hi float64) []float64 {
	const perOctave = 6
	ways := len(b.Prototype.Ways)
	out := make([]float64, ways)
	if ways < 2 {
		return out
	}
	var hz []float64
	for f := lo; f < hi; f *= math.Exp2(1.0 / perOctave) {
		hz = append(hz, f)
	}
	hz = append(hz, hi)
	rs := make([]*biquad.Responder, ways)
	h := make([][]complex128, ways)
	for w, p := range b.Prototype.Ways {
		rs[w] = biquad.OnAnalog(p.Cascade, hz)
		h[w] = make([]complex128, len(hz))
	}
	biquad.Each(b.Prototype.Axes(), len(b.Settings), func(c biquad.Combination) {
		for w := range rs {
			rs[w].Response(h[w], c)
		}
		for w := range rs {
			peak := biquad.DB(slices.MaxFunc(h[w], func(a, b complex128) int { return cmp.Compare(biquad.DB(a), biquad.DB(b)) }))
			for _, n := range []int{w - 1, w + 1} {
				if n < 0 || n >= ways {
					continue
				}
				for i, f := range hz {
					own := biquad.DB(h[w][i])
					if own >= peak+b.Promises.DownToDB && math.Abs(own-biquad.DB(h[n][i])) <= 20 {
						out[w] = math.Max(out[w], f)
					}
				}
			}
		}
	})
	return out
}

// quantise rounds every system to the words of each format: float64, the
// reference, always, and those that the spec asks for.
func quantise(_ context.Context, b *Build) ([]language.Fault, error) {
	d := b.Spec.Digital
	asked := map[string]bool{}
	for _, name := range d.Formats {
		asked[name] = true
	}
	inputGain := biquad.FromDB(-d.HeadroomDB)
	for i, rate := range d.RatesHz {
		for _, f := range number.Formats {
			if f.Name != number.Reference && !asked[f.Name] {
				continue
			}
			q := f.System(b.made[i].System, inputGain, rate)
			b.Digital = append(b.Digital, Digital{
				RateHz: rate, Format: f, Asked: asked[f.Name], Method: d.Method,
				CommonDelayS: b.made[i].CommonDelayS, InputGain: inputGain,
				System: q.System, CommonErrors: q.Common, WayErrors: q.Ways,
				CommonHow: b.made[i].CommonHow, WayHow: b.made[i].WayHow, Notes: notes(b.made[i]),
			})
		}
	}
	return nil, nil
}

// notes joins what is to be said of each way with what is to be said of the
// common filters, which are in every way.
func notes(m discretize.Made) []string {
	out := make([]string, len(m.System.Ways))
	for k := range out {
		out[k] = m.CommonNote
		if k < len(m.WayNotes) && m.WayNotes[k] != "" {
			if out[k] != "" {
				out[k] += "; "
			}
			out[k] += m.WayNotes[k]
		}
	}
	return out
}

// Subject is the Build's prototype as what realisations are judged by.
func (b *Build) Subject() *verify.Subject {
	s := &verify.Subject{Settings: b.Settings, Prototype: verify.NewIdeal(b.Prototype), AllAxes: b.Prototype.Axes()}
	var ways []biquad.Cascade[biquad.Analog]
	least, most := math.Inf(1), 0.0
	for k, w := range b.Prototype.Ways {
		s.Ways = append(s.Ways, w.Name)
		s.WayAxes = append(s.WayAxes, biquad.Axes(b.Prototype.Path(k)))
		ways = append(ways, w.Cascade)
		least, most = math.Min(least, w.DelayS), math.Max(most, w.DelayS)
	}
	s.SplitAxes, s.SpreadS = biquad.Axes(ways...), most-least
	return s
}

// judge holds every realisation against the promises.
func judge(_ context.Context, b *Build) ([]language.Fault, error) {
	s := b.Subject()
	type verdict struct {
		figures  []verify.Figures
		findings []verify.Finding
	}
	out := make([]verdict, len(b.Digital))
	parallel.Each(len(b.Digital), func(i int) {
		d := b.Digital[i]
		out[i].figures, out[i].findings = verify.Judge(s, d.Realisation(), b.Promises)
		explained(out[i].findings, b, d)
		out[i].findings = append(out[i].findings, audits(b, d)...)
	})
	for i, v := range out {
		b.Figures = append(b.Figures, v.figures...)
		if b.Digital[i].Asked {
			b.Findings = append(b.Findings, v.findings...)
		}
	}
	judgeBoard(b)
	return nil, nil
}

// explained adds to what is broken of a way's response where its method had to
// fall back.
func explained(fs []verify.Finding, b *Build, d Digital) {
	for i := range fs {
		f := &fs[i]
		k := slices.IndexFunc(b.Spec.Ways, func(w language.Way) bool { return w.Name == f.Way })
		if f.Kept || k < 0 || d.Notes[k] == "" || f.Promise != "magnitude" && f.Promise != "phase" {
			continue
		}
		if f.Note != "" {
			f.Note += "; "
		}
		f.Note += d.Notes[k]
	}
}

// audits are the findings on safety that no error figure can replace.
func audits(b *Build, d Digital) []verify.Finding {
	var out []verify.Finding
	lo, hi, _ := b.Promises.Band(d.RateHz)
	for k, w := range d.System.Ways {
		a := discretize.AuditWay(b.Prototype.Path(k), d.System.Path(k), d.RateHz, lo, hi, b.Promises.DownToDB, len(b.Settings))
		f := verify.Finding{Promise: "safety", Realisation: d.Name(), Way: w.Name, Setting: []verify.Choice{}, Unit: "dB",
			Limit: discretize.MostExcessDB, Worst: a.ExcessDB(), Kept: a.Safe(), Broken: a.Unsafe, Of: a.Of, Note: d.Notes[k]}
		if f.AtHz = a.UltrasonicHz; a.StopBandDB > a.UltrasonicDB {
			f.AtHz = a.StopBandHz
		}
		if !f.Kept {
			f.Remedy = a.Violations() + ": use a higher rate or another method"
		}
		out = append(out, f)
	}
	return out
}

// Realisation is the digital system as something that promises can be held
// against.
func (d Digital) Realisation() *verify.Biquads {
	lo, hi := 20.0, math.Min(20000, verify.TopOfRate*d.RateHz)
	// One way after another is asked for: one is kept at a time.
	var noise *number.Noise
	of := -1
	return verify.NewBiquads(d.Name(), d.System, d.RateHz, d.CommonDelayS, verify.Traits{
		Method: d.Method, InputGain: d.InputGain,
		NoiseDBFS: func(way int, c verify.Combination) float64 {
			if way != of {
				noise, of = number.NewNoise(d.Format, d.System.Path(way), d.InputGain, d.RateHz, lo, hi), way
			}
			return noise.DBFS(c)
		},
	})
}

// Name is how findings and reports call the realisation:
// "digital 48 kHz float32".
func (d Digital) Name() string { return RealisationName(d.RateHz, d.Format.Name) }

// RealisationName is the name of the digital realisation at a rate (Hz) in a
// format.
func RealisationName(rateHz float64, format string) string {
	return fmt.Sprintf("digital %s %s", words.Rate(rateHz), format)
}

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
	"bandwright/compiler/promise"
	"bandwright/compiler/words"
)

// Digital is one digital realisation.
type Digital struct {
	RateHz float64
	Format number.Format
	// Asked is false for the float64 reference that the spec did not ask for.
	Asked  bool
	Method string
	// CommonDelayS says how much later every way is than its prototype (s).
	CommonDelayS float64
	// InputGain (linear) is the attenuation of digital.headroom, outside every
	// comparison. The kernel's first multiplication is by
	// Format.Round(InputGain × System.Common.Gain).
	InputGain float64
	// System has coefficients that are exactly the words of the format. Its
	// positions say how they were made and what their rounding costs.
	System biquad.System[biquad.Digital]
	// Changes are what is heard of changes of settings; nil where they were not
	// simulated.
	Changes *Changes
	// Laid is how it stands in somebody else's engine; nil of our own formats.
	Laid *Laid
	// Notes say, for each way, where the method had to fall back; "" where not.
	Notes []string
}

// DelaySamples is a cascade's pure delay in whole samples.
func (d Digital) DelaySamples(c biquad.Cascade[biquad.Digital]) int {
	return number.DelaySamples(c, d.RateHz)
}

// Name is how findings and reports call the realisation:
// "digital 48 kHz float32".
func (d Digital) Name() string { return RealisationName(d.RateHz, d.Format.Name) }

// RealisationName is the name of the digital realisation at a rate (Hz) in a
// format.
func RealisationName(rateHz float64, format string) string {
	return fmt.Sprintf("digital %s %s", words.Rate(rateHz), format)
}

// delayShare is how much of the phase promise the fraction of a delay may use
// up: a tenth, so that the promise is left for the filters.
const delayShare = 0.1

// goalsOf are the promises as goals of a method.
func goalsOf(w *Wanted) discretize.Goals {
	g := discretize.Goals{
		MagnitudeDB: w.Promises.Goal(&promise.Magnitude),
		SumDB:       w.Promises.Goal(&promise.Sum),
		PhaseDeg:    w.Promises.Goal(&promise.Phase),
	}
	g.DelayDeg = g.PhaseDeg * delayShare
	return g
}

// discretise makes one digital system a rate, before any rounding to words, in
// the order of the spec's rates; none of a spec without `digital`.
func discretise(ctx context.Context, w *Wanted) ([]discretize.Made, error) {
	d := w.Spec.Digital
	if d == nil {
		return nil, nil
	}
	m, ok := discretize.ByName(d.Method)
	if !ok {
		panic("compiler: the grammar let an unknown method pass: " + d.Method)
	}
	goals := goalsOf(w)
	goals.ExtraBiquads = d.ExtraBiquads
	made := make([]discretize.Made, len(d.RatesHz))
	errs := make([]error, len(d.RatesHz))
	parallel.Each(len(d.RatesHz), func(i int) {
		if errs[i] = ctx.Err(); errs[i] != nil {
			return
		}
		lo, hi, _ := w.Promises.Band(d.RatesHz[i])
		g := goals
		g.DelayToHz = w.phaseTop(lo, hi)
		made[i], errs[i] = m.Realise(ctx, discretize.Job{
			Prototype: w.Prototype,
			RateHz:    d.RatesHz[i], LowHz: lo, HighHz: hi, DownToDB: w.Promises.DownToDB,
			Goals: g, SectionBySection: d.SectionBySection,
		})
	})
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return made, nil
}

// phaseTop is, for each way, the highest frequency at which a neighbour is
// within 20 dB of it in any combination of settings, to a sixth of an octave,
// as far down as promises reach.
func (w *Wanted) phaseTop(lo, hi float64) []float64 {
	const perOctave = 6
	ways := len(w.Prototype.Ways)
	out := make([]float64, ways)
	if ways < 2 {
		return out
	}
	hz := biquad.Octaves(lo, hi, perOctave)
	rs := make([]*biquad.Responder, ways)
	h := make([][]complex128, ways)
	for k, p := range w.Prototype.Ways {
		rs[k] = biquad.OnAnalog(p.Cascade, hz)
		h[k] = make([]complex128, len(hz))
	}
	biquad.Each(w.Prototype.Axes(), len(w.Settings), func(c biquad.Combination) {
		for k := range rs {
			rs[k].Response(h[k], c)
		}
		for k := range rs {
			peak := biquad.DB(slices.MaxFunc(h[k], func(a, b complex128) int { return cmp.Compare(biquad.DB(a), biquad.DB(b)) }))
			for i, f := range hz {
				own := biquad.DB(h[k][i])
				apart := func(n int) float64 { return own - biquad.DB(h[n][i]) }
				if own >= peak+w.Promises.DownToDB && biquad.NeighbourMarginDB(biquad.NeighbourDB, k, ways, apart) >= 0 {
					out[k] = math.Max(out[k], f)
				}
			}
		}
	})
	return out
}

// quantise rounds every system to the words of each format: float64, the
// reference, always, and those that the spec asks for.
func quantise(d *language.Digital, made []discretize.Made) []Digital {
	if d == nil {
		return nil
	}
	asked := map[string]bool{}
	for _, name := range d.Formats {
		asked[name] = true
	}
	var ideal []biquad.System[biquad.Digital]
	for _, m := range made {
		ideal = append(ideal, m.System)
	}
	inputGain := biquad.FromDB(-d.HeadroomDB)
	byFormat := make([][]Digital, 0, len(number.Formats))
	for _, f := range number.Formats {
		if f.Name != number.Reference && !asked[f.Name] {
			continue
		}
		f = f.Dithered(d.Dither)
		fitted, systems := f.Systems(ideal, inputGain, d.RatesHz)
		var each []Digital
		for i, rate := range d.RatesHz {
			each = append(each, Digital{
				RateHz: rate, Format: fitted, Asked: asked[f.Name], Method: d.Method,
				CommonDelayS: made[i].CommonDelayS, InputGain: inputGain,
				System: systems[i], Notes: notes(made[i]),
			})
		}
		byFormat = append(byFormat, each)
	}
	var out []Digital
	for i := range d.RatesHz {
		for _, each := range byFormat {
			out = append(out, each[i])
		}
	}
	return out
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

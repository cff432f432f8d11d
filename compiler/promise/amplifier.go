package promise

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Amplifier is what amplifiers are asked for, against what they give.
var Amplifier = Row{
	Promise: verify.Promise{Name: "amplifier", Unit: words.DB},
	Doc:     "At a sine of the level `at` at the input no amplifier is asked for more volts or amperes than it gives, in any setting, dB above that.",
	InAir:   true, At: true, Example: -6, Written: words.DB,
}

func amplifiers(a Air, at float64) []verify.Finding {
	var out []verify.Finding
	gain := biquad.FromDB(at)
	for _, h := range a.Heard {
		for k, w := range h.Ways {
			way := &a.System.Ways[k]
			if !way.Known || way.LimitV == 0 && way.LimitA == 0 || !w.Volts.Known {
				continue
			}
			// Of volts and amperes what is nearer to its limit.
			x, limit, unit := w.Volts, way.LimitV, "V"
			of := func(s acoustic.Strain) float64 { return s.Volts.Value }
			asks := func(h *acoustic.Heard) []float64 { return raised(h.Ways[k].MostV, h.Ways[k].Volts.Value) }
			if v := w.Amperes; v.Known && way.LimitA > 0 && (limit == 0 || v.Value/way.LimitA > x.Value/limit) {
				x, limit, unit = v, way.LimitA, "A"
				asks = func(h *acoustic.Heard) []float64 { return raised(h.Ways[k].MostA, h.Ways[k].Amperes.Value) }
				of = func(s acoustic.Strain) float64 { return s.Amperes.Value }
			}
			if limit == 0 || !(x.Value > 0) {
				continue
			}
			f := verify.Finding{Promise: Amplifier.Name, About: fmt.Sprintf("amplifier of %s at %s dB", w.Way, words.Exact(at)), Realisation: h.Realisation, Way: w.Way,
				With: choices(x.With), C: x.C, Worst: biquad.GainDB(x.Value * gain / limit), Unit: words.DB, AtHz: x.AtHz, Of: max(1, len(w.Settings)),
				Note: fmt.Sprintf("%s %s of the %s %s RMS that it gives", words.Three(x.Value*gain), unit, words.Short(limit), unit)}
			f.Kept = x.Value*gain <= limit*(1+hardly)
			if !f.Kept {
				f.Broken = max(1, broken(w.Settings, func(s acoustic.Strain) bool { return of(s)*gain > limit*(1+hardly) }))
				curve := asks(h)
				f.Remedy = fmt.Sprintf("%s asks for more than %s %s %s at %s dB; %s", w.Way, words.Short(limit), unit, acoustic.Passes(a.System.Hz[:len(curve)], curve, at, limit),
					words.Exact(at), a.holds(&f, k, asks, w.LevelDB, at, limit))
			}
			f.Worst = math.Max(f.Worst, -verify.MostErrorDB)
			out = append(out, f)
		}
	}
	return out
}

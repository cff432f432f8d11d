package promise

import (
	"fmt"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Excursion is how far cones move, against what their drivers allow.
var Excursion = Row{
	Promise: verify.Promise{Name: "excursion", Unit: words.Millimetre},
	Doc:     "At a sine of the level `at` at the input no cone passes its driver's excursion, in any setting, from 5 Hz on.",
	InAir:   true, At: true, Example: -12, Written: words.DB,
}

func excursions(a Air, at float64) []verify.Finding {
	var out []verify.Finding
	gain := biquad.FromDB(at)
	for _, h := range a.Heard {
		for k, w := range h.Ways {
			way := &a.System.Ways[k]
			limit := way.LimitM()
			if limit == 0 || !way.Known || !w.Excursion.Known {
				continue
			}
			most := limit * (1 + hardly) / gain
			f := verify.Finding{Promise: Excursion.Name, About: fmt.Sprintf("excursion of %s at %s dB", w.Way, words.Exact(at)), Realisation: h.Realisation, Way: w.Way,
				With: choices(w.Excursion.With), C: w.Excursion.C, Limit: words.Round(limit*1e3, 6), Worst: w.Excursion.Value * gain * 1e3, Unit: words.Millimetre,
				AtHz: w.Excursion.AtHz, Kept: w.Excursion.Value <= most, Of: max(1, len(w.Settings))}
			if !f.Kept {
				f.Broken = max(1, broken(w.Settings, func(s acoustic.Strain) bool { return s.Excursion.Value > most }))
				moves := func(h *acoustic.Heard) []float64 { return raised(h.Ways[k].MostM, h.Ways[k].Excursion.Value) }
				f.Remedy = fmt.Sprintf("%s passes %s mm %s at %s dB; %s", w.Way, words.Short(limit*1e3), acoustic.Passes(a.System.Hz[:len(w.MostM)], moves(h), at, limit),
					words.Exact(at), a.holds(&f, k, moves, w.LevelDB, at, limit))
			}
			out = append(out, f)
		}
	}
	return out
}

// raised is a curve scaled so that its greatest point is what was found between points.
func raised(x []float64, greatest float64) []float64 {
	most := 0.0
	for _, v := range x {
		most = math.Max(most, v)
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v * math.Max(1, greatest/most)
	}
	return out
}

package promise

import (
	"fmt"
	"math"

	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// AcousticSum is how far the sum of all ways in the air, on the axis, departs from its
// mean level.
var AcousticSum = Row{
	Promise: verify.Promise{Name: "acoustic-sum", Unit: words.DB, Loosened: three(words.DB)},
	Doc: "How far the sum of all ways on the axis, drivers included, departs from its mean level over `acoustic-band`, dB; what settings do before the ways split is not counted. " +
		"3 dB where every way has a driver.",
	InAir: true, Type: errorDB, Driven: &Limit{On: true, Value: 3}, Example: 3, beside: []*Parameter{&AcousticBand},
}

func acousticSums(a Air, limit float64) []verify.Finding {
	var out []verify.Finding
	for _, h := range a.Heard {
		if !h.Sum.Known {
			continue
		}
		f := verify.Finding{Promise: AcousticSum.Name, About: "sum of all ways in the air", Realisation: h.Realisation, Way: verify.SumName, With: choices(h.Sum.With), C: h.Sum.C,
			Limit: limit, Worst: math.Abs(h.Sum.Value), Unit: words.DB, AtHz: h.Sum.AtHz, Kept: true, Of: len(h.Departures)}
		for _, d := range h.Departures {
			if math.Abs(d.Value) > limit {
				f.Broken++
				f.Kept = false
			}
		}
		f.Note = fmt.Sprintf("on the axis, %s re its own mean from %s to %s", words.Level(h.Sum.Value, "dB"), words.Hz(words.Round(h.SumLowHz, 3)), words.Hz(words.Round(h.SumHighHz, 3)))
		if !a.BandGiven {
			f.Note += ", the first and the last frequency at which two ways are within 20 dB of each other"
		}
		if !f.Kept && a.Mend != nil {
			f.Remedy = a.Mend(h, limit)
			if f.Remedy == "" {
				f.Remedy = "no polarity and no delay of one way does: change filters where it departs, or allow promise." + AcousticSum.Name + ": " + AcousticSum.Loosened(f.Worst)
			}
		}
		out = append(out, f)
	}
	return out
}

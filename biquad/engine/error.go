package engine

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// errorPoints are those of the grid that the neighbourhoods of poles join, up to half the
// rate.
const errorPoints = 300

// sectionError is what the words of one section and the rounding of its sums cost, as
// biquad.SectionError has it, re the section's own greatest gain.
func (c *Chain) sectionError(ideal biquad.Digital, w Words, rateHz float64) biquad.SectionError {
	q := c.digital(w)
	hz := biquad.Spaced(1, rateHz/2, errorPoints)[:errorPoints-1]
	hz = append(hz, around(ideal, rateHz, 0, rateHz/2)...)
	hz = append(hz, around(q, rateHz, 0, rateHz/2)...)
	change, peak := 0.0, 0.0
	for _, f := range hz {
		at := biquad.PointAt(f, rateHz)
		h := ideal.At(at)
		change = math.Max(change, cmplx.Abs(q.At(at)-h))
		peak = math.Max(peak, cmplx.Abs(h))
	}
	alone := Chain{Engine: c.Engine, Positions: []biquad.Slot[Words]{biquad.Fixed(w)}}
	round := biquad.FromDB(alone.NewNoise(rateHz, 1, rateHz/2).DBFS(nil))
	return biquad.SectionError{
		CoefficientDB: biquad.GainDB(change / peak),
		RoundOffDB:    biquad.GainDB(round / peak),
		TotalDB:       biquad.GainDB(math.Hypot(change, round) / peak),
	}
}

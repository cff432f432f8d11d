package discretize

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// systemJudge measures realised systems of the same ways, apart from any fit's
// own metric, on a dense grid.
type systemJudge struct {
	ways       []Way
	rateHz     float64
	references []*reference
	loudest    []float64 // y where each way's response is greatest
	ideal      []idealSum
	// crossover holds, for ways i and i+1, the frequencies at which they are equal.
	crossover [][]idealSum
}

// idealSum is what the ways of a prototype are at a frequency.
type idealSum struct {
	hz      float64
	point   biquad.Point
	want    []complex128
	sum     complex128
	clarity float64   // |sum| relative to the sum of the ways' sizes
	own     []float64 // as sharing has it
}

func newSystemJudge(ways []Way, rateHz float64, band Band) *systemJudge {
	j := &systemJudge{ways: ways, rateHz: rateHz}
	gains := make([]float64, len(ways))
	for i, w := range ways {
		gains[i] = w.Gain
		j.references = append(j.references, newReference(w.Sections, rateHz, band))
		j.loudest = append(j.loudest, loudest(spotsOf(w.Sections, rateHz, band)))
	}
	top := min(band.HighHz, 0.499*rateHz)
	ideal := func(hz float64) idealSum {
		x := idealSum{hz: hz, point: biquad.PointAt(hz, rateHz)}
		size := 0.0
		for _, w := range ways {
			t := w.at(hz)
			x.want = append(x.want, t)
			x.sum += t
			size += cmplx.Abs(t)
		}
		x.clarity = cmplx.Abs(x.sum) / size
		x.own = sharing(x.want, gains, band.FloorDB)
		return x
	}
	const perDecade = 200
	for _, hz := range biquad.Spaced(band.LowHz, top, int(perDecade*math.Log10(top/band.LowHz))+1) {
		j.ideal = append(j.ideal, ideal(hz))
	}
	for i := 1; i < len(ways); i++ {
		var at []idealSum
		for _, hz := range crossovers(ways[i-1:i+1], band.LowHz, top) {
			at = append(at, ideal(hz))
		}
		j.crossover = append(j.crossover, at)
	}
	return j
}

// judge audits a fitted system.
func (j *systemJudge) judge(c *systemModel, from []*wayStart) SystemFit {
	out := SystemFit{TauS: c.tau / j.rateHz}
	for i, p := range from {
		audited := func(ps []planar) WayFit {
			arranged(ps, j.loudest[i])
			r := WayFit{Sections: digital(ps), DelaySamples: p.whole, Extra: p.extra}
			r.Audit = j.references[i].inspect(r.Sections)
			return r
		}
		ps := c.ways[i].planars()
		r := audited(ps)
		if r.Audit.InternalDB > Guarded.InternalDB {
			if qs, ok := regrouped(ps); ok {
				if q := audited(qs); q.Audit.InternalDB < r.Audit.InternalDB {
					r = q
				}
			}
		}
		out.Ways = append(out.Ways, r)
	}
	j.measure(&out)
	return out
}

// realised are the ways of a realised system at a frequency, and their sum, with
// τ taken off.
func (j *systemJudge) realised(s *SystemFit, x *idealSum, have []complex128) (sum complex128) {
	for i, w := range j.ways {
		h := complex(w.Gain, 0) * biquad.Delay(x.hz, float64(s.Ways[i].DelaySamples)/j.rateHz-s.TauS)
		for _, d := range s.Ways[i].Sections {
			h *= d.At(x.point)
		}
		have[i] = h
		sum += h
	}
	return sum
}

// measure fills in what concerns more than one way.
func (j *systemJudge) measure(s *SystemFit) {
	have := make([]complex128, len(j.ways))
	for k := range j.ideal {
		x := &j.ideal[k]
		sum := j.realised(s, x, have)
		for i, own := range x.own {
			if own == 1 {
				s.Ways[i].OverlapDeg = max(s.Ways[i].OverlapDeg, degrees*math.Abs(angle(have[i], x.want[i])))
			}
		}
		if !(x.clarity > clearEnough) {
			continue
		}
		if e := math.Abs(biquad.DB(sum) - biquad.DB(x.sum)); e > s.SumDB {
			s.SumDB, s.SumHz = e, x.hz
		}
		s.SumPhaseDeg = max(s.SumPhaseDeg, degrees*math.Abs(angle(sum, x.sum)))
	}
	if len(j.ways) == 1 {
		s.PhaseDeg = s.SumPhaseDeg
	}
	for i, at := range j.crossover {
		for k := range at {
			x := &at[k]
			j.realised(s, x, have)
			d := angle(have[i+1], x.want[i+1]) - angle(have[i], x.want[i])
			d -= 2 * math.Pi * math.Round(d/(2*math.Pi))
			d = degrees * math.Abs(d)
			s.PhaseDeg = max(s.PhaseDeg, d)
			for _, w := range [2]int{i, i + 1} {
				s.Ways[w].relativeDeg = max(s.Ways[w].relativeDeg, d)
			}
		}
	}
}

// clearEnough is how large the ideal sum is, relative to the ways' sizes, where
// its error counts: in a deep cancellation decibels mean nothing.
const clearEnough = 0.1

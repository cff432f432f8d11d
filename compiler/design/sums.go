package design

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// CrossoverSum is what the crossover filters alone sum to, in the chosen
// polarities, over the band: least and greatest level in dB.
type CrossoverSum struct {
	Compensation  string // none, all-pass or exact
	LowDB, HighDB float64
	Chosen        bool // the spec's own phase-compensation
}

// sumsPerOctave is the density at which crossover sums are looked at: their
// ripple is as wide as the crossovers, octaves.
const sumsPerOctave = 48

// crossoverSums is what the crossover filters alone sum to, without and with
// phase compensation where that exists.
func (r *resolved) crossoverSums(p biquad.System[biquad.Analog]) []CrossoverSum {
	if len(r.crossovers) == 0 {
		return nil
	}
	modes := []string{compensateNone}
	if len(r.spec.Ways) > 2 && !slices.ContainsFunc(r.crossovers, func(x pair) bool { return r.unsummable(x) != "" }) {
		modes = append(modes, compensateAllPass, compensateExact)
	}
	hz := biquad.OctavesBelow(r.lowHz, r.highHz, sumsPerOctave)
	var out []CrossoverSum
	for _, mode := range modes {
		sum := make([]complex128, len(hz))
		h := make([]complex128, len(hz))
		for i, w := range p.Ways {
			c := biquad.Cascade[biquad.Analog]{Gain: w.Polarity}
			add := func(ss []biquad.Analog) {
				for _, s := range ss {
					c.Slots = append(c.Slots, biquad.Fixed(s))
				}
			}
			for _, x := range r.crossovers {
				switch i {
				case x.Lower:
					add(x.low.ideal.Sections)
				case x.Upper:
					add(x.high.ideal.Sections)
				default:
					add(r.compensation(x, i, mode))
				}
			}
			biquad.OnAnalog(c, hz).Response(h, make(biquad.Combination, len(r.spec.Settings)))
			for k := range sum {
				sum[k] += h[k]
			}
		}
		s := CrossoverSum{Compensation: mode, LowDB: math.Inf(1), HighDB: math.Inf(-1), Chosen: mode == r.spec.PhaseCompensation}
		for _, v := range sum {
			s.LowDB, s.HighDB = math.Min(s.LowDB, biquad.DB(v)), math.Max(s.HighDB, biquad.DB(v))
		}
		out = append(out, s)
	}
	return out
}

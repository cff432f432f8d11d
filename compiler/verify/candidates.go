package verify

import (
	"cmp"
	"math"
	"slices"
)

// candidate is a place where a measure may have its maximum: an interval of
// the grid in one combination, and what it promises there.
type candidate struct {
	c        Combination
	lo, hi   float64
	mid      float64 // the grid point between them
	estimate float64 // magnitude
	at       float64 // magnitude on the grid where it is reached for certain, else 0
}

// bulge is how far the parabola through three neighbours rises above the
// middle, greatest one.
func bulge(a, m, b float64) float64 {
	d := 2*m - a - b
	if !(d > 0) {
		return 0
	}
	return (b - a) * (b - a) / (8 * d)
}

// bend is the magnitude of a measure's second difference at three neighbours
// of the grid; 0 where it ends.
func bend(t *tally, v *view, before, at, after int) float64 {
	if n := len(v.hz); before < 0 || before >= n || after < 0 || after >= n {
		return 0
	}
	return math.Abs(t.value(v, before) - 2*t.value(v, at) + t.value(v, after))
}

// mostPlaces is how many intervals of the grid a combination may offer.
const mostPlaces = 32

// candidates are the most promising intervals of the grid in one view, the best
// first: local maxima and the edges of the domain.
func (s *search) candidates(t *tally, v *view) []candidate {
	n := len(v.hz)
	if len(s.in) < n {
		s.in, s.val = make([]float64, n), make([]float64, n)
	}
	in, val, out := s.in[:n], s.val[:n], s.places[:0]
	for i := range n {
		val[i] = 0
		if in[i] = t.inside(v, i); in[i] >= 0 {
			val[i] = math.Abs(t.value(v, i))
		}
	}
	for i := range n {
		if in[i] < 0 {
			if island(in, i) {
				out = append(out, candidate{lo: v.hz[i-1], mid: v.hz[i], hi: v.hz[i+1], estimate: math.Abs(t.value(v, i)) * (1 + slack)})
			}
			continue
		}
		est := val[i]
		if i > 0 && i < n-1 && in[i-1] >= 0 && in[i+1] >= 0 {
			if val[i] < val[i-1] || val[i] < val[i+1] {
				continue
			}
			est += bulge(val[i-1], val[i], val[i+1])
		} else {
			// At an edge of the domain the error may go on rising until the
			// edge, which lies before the next grid point k. The straight line
			// towards it is too low by up to an eighth of the second
			// difference where the error bends; twice that is added.
			for _, k := range []int{i - 1, i + 1} {
				if k >= 0 && k < n && in[k] < 0 {
					a, b := in[i], in[k]
					line := val[i] + (math.Abs(t.value(v, k))-val[i])*a/(a-b)
					est = max(est, line+bend(t, v, 2*i-k, i, k)/4)
				}
			}
		}
		c := candidate{lo: v.hz[max(0, i-1)], mid: v.hz[i], hi: v.hz[min(n-1, i+1)], estimate: est}
		if in[i] >= peakDoubt {
			c.at = val[i]
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b candidate) int { return cmp.Compare(b.estimate, a.estimate) })
	s.places = out
	return slices.Clone(out[:min(len(out), mostPlaces)])
}

// peakDoubt is how far inside of its domain (dB) a point of the grid has to be
// for that to be certain: the domain is counted from a peak that the grid may
// have missed by as much.
const peakDoubt = 0.5

// nearlyInside is how far outside of its domain (dB) a measure may be, at the
// grid point nearest to a hump of the level, for the hump to be looked into: a
// stop band that just touches the mask is inside between two points only.
const nearlyInside = 1.0

// island reports whether point i, outside, is a hump of the domain that the
// grid has missed.
func island(in []float64, i int) bool {
	return in[i] >= -nearlyInside && i > 0 && i < len(in)-1 && in[i] >= in[i-1] && in[i] >= in[i+1]
}

// slack is how far, relative, a true maximum may lie above its estimate from
// the grid.
const slack = 0.05

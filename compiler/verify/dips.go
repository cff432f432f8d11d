package verify

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// Ways with different delays sum to a comb: the sum dips at intervals of one
// over the difference. Around a dip of the prototype's sum it is exempt from
// its promise, and right beside it the error is greatest; at a dip of the
// realised sum that lies elsewhere the error has a spike. So the search has to
// know each dip of both.

// perCycle is how many frequencies of the grid fall between two dips of a comb,
// and mostPoints where that ends: delays of a quarter of a second, which no
// loudspeaker has. More than two ways share as many points between them.
const (
	perCycle   = 8
	mostPoints = 40000
)

// denser adds frequencies so that no two lie further apart than an eighth of
// the distance between the dips that a delay of spreadS (s) makes.
func denser(hz []float64, spreadS float64, ways int) []float64 {
	if !(spreadS > 0) {
		return hz
	}
	step := 1 / (perCycle * spreadS)
	step = max(step, hz[len(hz)-1]/mostPoints*max(1, float64(ways)/2))
	out := hz[:1:1]
	for i := 1; i < len(hz); i++ {
		n := int(math.Ceil((hz[i] - hz[i-1]) / step))
		for k := 1; k < n; k++ {
			out = append(out, hz[i-1]+(hz[i]-hz[i-1])*float64(k)/float64(n))
		}
		out = append(out, hz[i])
	}
	return out
}

// dipDB is how far the sum must have fallen below the sum of its parts, at the
// grid point nearest to a dip, for the dip to be looked into (dB): a quarter of
// a cycle away a comb of equal ways has fallen by 3 dB, so a dip that is worth
// it falls by more at one of its two neighbours.
const dipDB = -2

// beside are the distances from a dip at which the search looks, relative to
// the distance of its neighbours on the grid.
var beside = []float64{0, 1e-4, 1e-3, 3e-3, 0.01, 0.02, 0.04, 0.07, 0.11, 0.16, 0.22, 0.3, 0.4, 0.55, 0.75}

// besideMany are those distances where dips crowd, the most useful first: as
// many as make no more than twice crowd of points.
var besideMany = []float64{0, 0.11, 0.4, 0.01}

// mostTables bounds the tables of responses that are made to find the dips of a
// realised sum, in frequencies times landmarks: beyond, with hundreds of
// sections, only the prototype's are looked for.
const mostTables = 5e6

// dips are frequencies around every dip of the sum of the prototype and of a
// realisation, in any combination of the ways' own settings. landmarks is how
// many both have.
func (s *Subject) dips(r Realisation, hz []float64, landmarks int) []float64 {
	if len(s.Ways) < 2 {
		return nil
	}
	out := s.dipsOf(s.Prototype, hz)
	if float64(len(hz))*float64(landmarks) > mostTables {
		return out
	}
	return append(out, s.dipsOf(r, hz)...)
}

// dipsOf are frequencies around every dip of one sum.
func (s *Subject) dipsOf(r Realisation, hz []float64) []float64 {
	n := len(hz)
	on := r.On(hz)
	h := make([][]complex128, len(s.Ways))
	for w := range h {
		h[w] = make([]complex128, n)
	}
	depths := make([]float64, n)
	type dip struct{ at, lo, hi float64 }
	var found []dip
	seen := map[int]bool{}
	biquad.Each(s.SplitAxes, len(s.Settings), func(c Combination) {
		for w := range h {
			on.Response(h[w], w, c)
		}
		for i := range depths {
			depths[i] = depth(h, i)
		}
		for i := 1; i < n-1; i++ {
			d := depths[i]
			if d > dipDB || d > depths[i-1] || d > depths[i+1] || seen[i] {
				continue
			}
			seen[i] = true
			found = append(found, dip{s.bottom(r, slices.Clone(c), hz[i-1], hz[i+1]), hz[i-1], hz[i+1]})
		}
	})
	distances := beside
	if len(found)*2*len(beside) > crowd {
		distances = besideMany[:max(1, min(len(besideMany), crowd/len(found)))]
	}
	var out []float64
	for _, d := range found {
		for _, b := range distances {
			out = append(out, d.at-(d.at-d.lo)*b, d.at+(d.hi-d.at)*b)
		}
	}
	return out
}

// depth is how far the sum of the ways' responses h has fallen below the sum of
// their magnitudes at frequency i (dB, at most 0).
func depth(h [][]complex128, i int) float64 {
	var sum complex128
	all := 0.0
	for w := range h {
		sum += h[w][i]
		all += magnitude(h[w][i])
	}
	return ratioDB(biquad.Power(sum), all*all)
}

// bottom is the frequency of the dip between lo and hi (Hz).
func (s *Subject) bottom(r Realisation, c Combination, lo, hi float64) float64 {
	h := make([][]complex128, len(s.Ways))
	for w := range h {
		h[w] = make([]complex128, zoomPoints)
	}
	for range 5 {
		hz := between(lo, hi)
		best := 0
		near := r.Near(hz)
		for w := range h {
			near.Response(h[w], w, c)
		}
		for i := range hz {
			if depth(h, i) < depth(h, best) {
				best = i
			}
		}
		lo, hi = hz[max(0, best-1)], hz[min(zoomPoints-1, best+1)]
	}
	return (lo + hi) / 2
}

package biquad

import (
	"math"
	"slices"
)

// endTol is how near (relative) to the end of a grid a point takes the end's
// place: a band of whole octaves ends on a point but for rounding.
const endTol = 1e-9

// OctavesBelow is the logarithmic grid lo·2^(i/perOctave), i = 0, 1, …, below
// hi: half-open, as slices are. 0 < lo; both in one unit, hertz as a rule.
func OctavesBelow(lo, hi float64, perOctave int) []float64 {
	var out []float64
	for i := 0; ; i++ {
		f := lo * math.Exp2(float64(i)/float64(perOctave))
		if !(f < hi*(1-endTol)) {
			return out
		}
		out = append(out, f)
	}
}

// Octaves is the logarithmic grid with both ends: OctavesBelow, then hi. Those
// of more that lie between the ends, corners as a rule, are merged into it,
// ascending and each value once.
func Octaves(lo, hi float64, perOctave int, more ...float64) []float64 {
	out := append(OctavesBelow(lo, hi, perOctave), hi)
	for _, f := range more {
		if f > lo && f < hi {
			out = append(out, f)
		}
	}
	return Ascending(out, 0)
}

// Spaced is n ≥ 2 points at equal ratios, from lo to hi inclusive:
// lo·2^(log₂(hi/lo)·i/(n-1)). 0 < lo.
func Spaced(lo, hi float64, n int) []float64 {
	out := make([]float64, n)
	span := math.Log2(hi / lo)
	for i := range n - 1 {
		out[i] = lo * math.Exp2(span*float64(i)/float64(n-1))
	}
	out[n-1] = hi
	return out
}

// Ascending sorts in place and leaves out what lies no more than the part
// apart (relative, ≥ 0) above the value kept before it; 0 leaves out equal
// values only.
func Ascending(hz []float64, apart float64) []float64 {
	slices.Sort(hz)
	out := hz[:0]
	for _, f := range hz {
		if n := len(out); n == 0 || f-out[n-1] > apart*out[n-1] {
			out = append(out, f)
		}
	}
	return out
}

// Summit narrows the interval from a to b, in which f has one maximum, so many
// times to 0.618 of it by golden sections (Kiefer, Proc. AMS 4, 1953), and
// returns the place.
func Summit(a, b float64, steps int, f func(float64) float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	p, q := b-ratio*(b-a), a+ratio*(b-a)
	fp, fq := f(p), f(q)
	for range steps {
		if fp > fq {
			b, q, fq = q, p, fp
			p = b - ratio*(b-a)
			fp = f(p)
		} else {
			a, p, fp = p, q, fq
			q = a + ratio*(b-a)
			fq = f(q)
		}
	}
	return p
}

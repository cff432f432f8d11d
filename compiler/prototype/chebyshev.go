package prototype

import (
	"math"

	"bandwright/biquad"
)

// chebyshev: ripple between 0 dB and -RippleDB up to 1 rad/s, the last
// frequency inside the ripple; poles -sinh v·sin θ ± j·cosh v·cos θ with
// v = asinh(1/ε)/n (L. Weinberg, Network Analysis and Synthesis, 1962,
// chapter 11). Even orders stand at -RippleDB at 0 Hz.
var chebyshev = Family{
	Name:       "chebyshev",
	Also:       []string{"cheb", "cheby", "cheb1", "cheby1", "chebyshev-1", "chebyshev1", "tschebyscheff"},
	Doc:        "equal ripple in the passband, its peaks at 0 dB, `at` is where the response leaves the ripple",
	UsesRipple: true,
	Sections: func(d Design) []biquad.Analog {
		out := chebyshevPoles(d.Order, math.Asinh(1/math.Sqrt(excess(d.RippleDB)))/float64(d.Order))
		if d.Order%2 == 0 {
			amplified(out, biquad.FromDB(-d.RippleDB))
		}
		return out
	},
}

// chebyshevPoles is the all-pole low-pass whose poles lie on the ellipse of
// half axes sinh v and cosh v.
func chebyshevPoles(order int, v float64) []biquad.Analog {
	sinh, _ := sinhCosh(v)
	var out []biquad.Analog
	if order%2 == 1 {
		out = append(out, single(sinh))
	}
	for k := order / 2; k >= 1; k-- {
		sin, cos := math.Sincos(float64(2*k-1) * math.Pi / float64(2*order))
		w := math.Hypot(sinh, cos) // |pole|² = sinh²v + cos²θ
		out = append(out, pair(w, 2*sinh*sin/w))
	}
	return out
}

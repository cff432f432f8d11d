package prototype

import (
	"math"

	"bandwright/biquad"
)

// inverseChebyshev: maximally flat at 0 Hz, at most -StopDB from 1 rad/s up.
// Its poles are the reciprocals of Chebyshev poles, its zeros lie at 1/cos θ
// on the imaginary axis (L. Weinberg, Network Analysis and Synthesis, 1962,
// chapter 11); the pair of highest Q is next to the lowest zero and shares a
// section with it.
var inverseChebyshev = Family{
	Name:     "inverse-chebyshev",
	Also:     []string{"cheb2", "cheby2", "chebyshev-2", "chebyshev2"},
	Doc:      "flat passband, equal ripple below -`stop`, `at` is where the stopband begins",
	UsesStop: true,
	Sections: func(d Design) []biquad.Analog {
		n := d.Order
		out := chebyshevPoles(n, math.Asinh(math.Sqrt(excess(d.StopDB)))/float64(n))
		for i := range out {
			out[i].W0 = 1 / out[i].W0
		}
		for k := n / 2; k >= 1; k-- {
			s := &out[len(out)-k]
			z := math.Cos(float64(2*k-1)*math.Pi/float64(2*n)) * s.W0
			s.B[2] = z * z
		}
		return out
	},
}

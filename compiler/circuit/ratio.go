package circuit

import "math"

// Ratio is a transfer function ΣN[k]·sᵏ / ΣD[k]·sᵏ with s in rad/s.
type Ratio struct{ N, D []float64 }

// At is the value at s = jw, w in rad/s.
func (r Ratio) At(w float64) complex128 { return along(r.N, w) / along(r.D, w) }

// along evaluates a polynomial at jw.
func along(p []float64, w float64) complex128 {
	var re, im float64
	power := 1.0
	for k, v := range p {
		switch k % 4 {
		case 0:
			re += v * power
		case 1:
			im += v * power
		case 2:
			re -= v * power
		case 3:
			im -= v * power
		}
		power *= w
	}
	return complex(re, im)
}

// plus is a + k·b for polynomials.
func plus(a []float64, k float64, b []float64) []float64 {
	out := make([]float64, max(len(a), len(b)))
	copy(out, a)
	for i, v := range b {
		out[i] += k * v
	}
	return out
}

// scaled is k·p.
func scaled(k float64, p ...float64) []float64 { return plus(nil, k, p) }

// siemens is 1/R, and 0 for a resistor that is not fitted.
func siemens(ohm float64) float64 {
	if ohm == 0 {
		return 0
	}
	return 1 / ohm
}

// ohms is the resistance of a conductance, and 0, not fitted, for none.
func ohms(siemens float64) float64 {
	if siemens == 0 {
		return 0
	}
	return 1 / siemens
}

// inParallel is R1·R2/(R1+R2).
func inParallel(r1, r2 float64) float64 { return r1 * r2 / (r1 + r2) }

// quadraticRoots are the two real solutions, the larger first, of
// x² - sum·x + product = 0. Where rounding alone makes the discriminant
// negative, it counts as zero.
func quadraticRoots(sum, product float64) (large, small float64, ok bool) {
	const rounding = 1e-12
	d := sum*sum/4 - product
	if d < 0 {
		if d < -rounding*math.Abs(product) {
			return 0, 0, false
		}
		d = 0
	}
	q := sum/2 + math.Copysign(math.Sqrt(d), sum)
	if q == 0 {
		return 0, 0, true
	}
	other := product / q
	if q < other {
		return other, q, true
	}
	return q, other, true
}

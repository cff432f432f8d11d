package circuit

import "math"

// Degree is the highest that a topology's numerator or denominator has.
const Degree = 4

// Polynomial is Σp[k]·sᵏ. It has room for the highest degree, so that a closed form that is
// evaluated ten thousand times for a batch leaves nothing to be cleared away.
type Polynomial [Degree + 1]float64

// Ratio is a transfer function ΣN[k]·sᵏ / ΣD[k]·sᵏ with s in rad/s.
type Ratio struct{ N, D Polynomial }

// At is the value at s = jw, w in rad/s.
func (r Ratio) At(w float64) complex128 { return along(&r.N, w) / along(&r.D, w) }

// along evaluates a polynomial at jw.
func along(p *Polynomial, w float64) complex128 {
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

// Degree is that of the highest power of s that is there, 0 without any.
func (p *Polynomial) Degree() int {
	for k := Degree; k > 0; k-- {
		if p[k] != 0 {
			return k
		}
	}
	return 0
}

// plus is p + k·q.
func (p Polynomial) plus(k float64, q Polynomial) Polynomial {
	for i, v := range q {
		p[i] += k * v
	}
	return p
}

// scaled is k·p.
func (p Polynomial) scaled(k float64) Polynomial { return Polynomial{}.plus(k, p) }

// first is p·(q[0] + q[1]·s), rounded as times is.
func (p Polynomial) first(q [2]float64) Polynomial {
	for k := Degree; k > 0; k-- {
		p[k] = float64(p[k-1]*q[1]) + float64(p[k]*q[0])
	}
	p[0] *= q[0]
	return p
}

// times is p·q, whose degrees add up to Degree at most. Every product of two coefficients is
// rounded on its own, so that all platforms agree.
func (p Polynomial) times(q Polynomial) (out Polynomial) {
	for i, v := range p {
		for k, w := range q[:len(q)-i] {
			out[i+k] += float64(v * w)
		}
	}
	return out
}

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

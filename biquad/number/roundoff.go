package number

import (
	"math"

	"bandwright/biquad"
)

// rounding is a model of what the roundings of a kernel's operations amount to.
type rounding struct {
	// power is the mean square of one rounding, over UnitRoundOff² and over what
	// sources counts for it.
	power float64
	// sources is what a section q in words, whose response is h there, adds at a frequency.
	sources func(q biquad.Digital, at biquad.Point, h complex128) sources
	// absolute errors are as large whatever is rounded.
	absolute bool
	// made is what rounding to samples of the format adds at the output, as sources
	// counts.
	made float64
}

// sources is what one section's roundings add at its nodes y, p and q for an
// input of amplitude 1 at one frequency.
type sources struct{ y, p, q float64 }

// relative is the rounding of the kernel in floating point: each error is
// relative to what is rounded.
//
// The error is uniform over the distance of two words (its square a third of
// the half distance's), which follows the binade, and the mantissa m of a sine
// is spread about as 1/m: 1/3 · ∫₁² m⁻³ dm / ln 2 = (1 - 1/4) / (6·ln 2).
// Model after B. Liu and T. Kaneko, Error analysis of digital filters realized
// with floating-point arithmetic, Proc. IEEE 57(10), 1969.
var relative = rounding{power: 0.75 / (6 * math.Ln2), sources: relativeSources}

// constant is the rounding of the kernel in fixed point, uniform over the distance
// of two words: a twelfth of its square, over that of half the distance, and over
// the mean square of a sine.
// Model after B. Widrow, Statistical analysis of amplitude-quantized sampled-data
// systems, Trans. AIEE 79(2), 1961.
func constant(made float64) rounding {
	return rounding{power: 2.0 / 3, sources: constantSources, absolute: true, made: made}
}

// constantSources is one rounding a section, of y, and in the delta forms that of q, whose high
// word is all that goes on. Products by a whole number are words already.
func constantSources(d biquad.Digital, _ biquad.Point, _ complex128) sources {
	if d.Order() == 0 && d.B[0] == math.Trunc(d.B[0]) {
		return sources{}
	}
	step := stepOf(d.Form)
	s := sources{y: step * step}
	if slopeOf(d) != 0 {
		left := math.Ldexp(step, -slopeBits(d))
		s.p = left * left
	}
	return s
}

// relativeSources is the sum of the squared amplitudes of everything that the
// kernel's Section rounds at each node. Products by zero and by powers of two
// and sums with zero are exact and add nothing.
func relativeSources(d biquad.Digital, pt biquad.Point, h complex128) sources {
	r := rowOf(d)
	n := d.Order()
	var s sources
	s.y = product(r.B0, 1)
	if n == 0 {
		return s
	}
	if r.B0 != 0 {
		s.y += biquad.Power(h)
	}
	p := h - complex(r.B0, 0)
	zp := p // |z·p| = |p|
	// q from its own recurrence: (z-c)·q = b2·x - a2·y.
	var q complex128
	if n == 2 {
		q = (complex(r.B2, 0) - complex(r.A2, 0)*h) / fromOrigin(d.Form, pt)
	}
	fed := q + complex(r.B1, 0)
	s.p = product(r.B1, 1) + product(r.A1, biquad.Power(h))
	if n == 2 && r.B1 != 0 {
		s.p += biquad.Power(fed)
	}
	if r.A1 != 0 && (n == 2 || r.B1 != 0) {
		s.p += biquad.Power(fed - complex(r.A1, 0)*h)
	}
	if r.Form != biquad.Direct {
		s.p += biquad.Power(zp)
	}
	if n < 2 {
		return s
	}
	s.q = product(r.B2, 1) + product(r.A2, biquad.Power(h))
	if r.Form != biquad.Direct && r.B2 != 0 {
		s.q += biquad.Power(complex(r.Form.Origin(), 0)*q + complex(r.B2, 0))
	}
	if r.A2 != 0 && (r.Form != biquad.Direct || r.B2 != 0) {
		s.q += biquad.Power(q)
	}
	return s
}

// product is the rounded square of coefficient × value, given the value's.
func product(c, square float64) float64 {
	if m, _ := math.Frexp(math.Abs(c)); c == 0 || m == 0.5 {
		return 0
	}
	return c * c * square
}

// fromOrigin is z - c.
func fromOrigin(f biquad.Form, pt biquad.Point) complex128 {
	switch f.Origin() {
	case 1:
		return pt.FromOne
	case -1:
		return pt.FromMinusOne
	}
	return 1 + pt.FromOne
}

// transfersOf is the squared gains at one frequency from the nodes y, p and q
// to the output: with x = 1/(z-c), 1/D, x/D and x²/D, D the denominator.
func transfersOf(d biquad.Digital, pt biquad.Point) sources {
	n := d.Order()
	if n == 0 {
		return sources{y: 1}
	}
	t := fromOrigin(d.Form, pt)
	// 1/D = tⁿ / (tⁿ + a1·tⁿ⁻¹ + …); At evaluates that without cancellation.
	over := biquad.Power(biquad.Digital{Form: d.Form, B: [3]float64{1}, A: d.A}.At(pt))
	s := sources{y: over, p: over / biquad.Power(t)}
	if d.Form == biquad.Shaped {
		s.y *= biquad.Power(pt.FromOne)
	}
	if n == 2 {
		s.q = s.p / biquad.Power(t)
	}
	return s
}

// noiseNorms are the same squared gains for white noise: the sums of the
// squared impulse responses, in closed form. For z² + a1·z + a2 all three have
// the denominator (1-a2)(1+a1+a2)(1-a1+a2), taken here from the coefficients
// around z = 1 and z = -1, which do not cancel. What Shaped rounds goes through
// 1 - z⁻¹ as well, as what the delta form adds to p does.
func noiseNorms(d biquad.Digital) (y, p, q float64) {
	one, minus := d.To(biquad.Delta), d.To(biquad.Mirrored)
	switch d.Order() {
	case 0:
		return 1, 0, 0
	case 1:
		up, down := one.A[1], -minus.A[1] // 1+a1, 1-a1
		p = 1 / (up * down)
		switch {
		case d.Form.Origin() == 1, d.Form == biquad.Shaped:
			return 2 / down, p, 0
		case d.Form == biquad.Mirrored:
			return 2 / up, p, 0
		}
		return p, p, 0
	}
	up, down := one.A[2], minus.A[2] // 1+a1+a2, 1-a1+a2
	margin := one.A[1] - one.A[2]    // 1-a2
	sum := 2 - margin                // 1+a2
	q = sum / (margin * up * down)
	switch {
	case d.Form.Origin() == 1:
		return (4*margin + 2*up) / (margin * down), 2 / (margin * down), q
	case d.Form == biquad.Mirrored:
		return (4*margin + 2*down) / (margin * up), 2 / (margin * up), q
	case d.Form == biquad.Shaped:
		return 2 / (margin * down), q, q
	}
	return q, q, q
}

package biquad

import (
	"math"
	"math/cmplx"
)

// Form says in which variable, 1/(z-c), a digital section is written. One
// recurrence serves them all:
//
//	y = b0·x + p;  p = c·p + (q + b1·x - a1·y);  q = c·q + b2·x - a2·y.
type Form int8

// The forms. The variable is z⁻¹ for Direct, 1/(z-1) for Delta, 1/(z+1) for
// Mirrored. The others are of fixed-point words: Shaped is Direct, and what
// rounding y leaves out is added to the next sum; the others are Delta: DeltaFine for numerators
// below 1, DeltaWide, in coarser words, below 4, DeltaDeep in words that are coarse for the numerator alone.
const (
	Direct    Form = 0
	Delta     Form = 1
	Mirrored  Form = -1
	Shaped    Form = 2
	DeltaFine Form = 3
	DeltaWide Form = 4
	DeltaDeep Form = 5
)

// forms is what is to be known of each, in the order of their numbers.
var forms = [...]struct {
	name   string
	origin float64
	whole  bool // of fixed-point words
}{
	Mirrored + 1: {"mirrored", -1, false}, Direct + 1: {"direct", 0, false}, Delta + 1: {"delta", 1, false},
	Shaped + 1: {"error-feedback", 0, true}, DeltaFine + 1: {"delta", 1, true}, DeltaWide + 1: {"delta", 1, true},
	DeltaDeep + 1: {"delta", 1, true},
}

// String is the form's name as it appears in artefacts. Forms of one name are
// of one variable.
func (f Form) String() string { return forms[f+1].name }

// Forms are all that there are.
func Forms() []Form {
	var out []Form
	for i := range forms {
		out = append(out, Form(i-1))
	}
	return out
}

// FormNamed is the form that has a name, of several that of floating point; false where none has.
func FormNamed(name string) (Form, bool) {
	for i, x := range forms {
		if x.name == name && (!x.whole || x.name != Delta.String()) {
			return Form(i - 1), true
		}
	}
	return Direct, false
}

// Origin is the constant c.
func (f Form) Origin() float64 { return forms[f+1].origin }

// Digital is one digital section in the variable x of its form,
//
//	H = (B[0] + B[1]·x + B[2]·x²) / (1 + A[1]·x + A[2]·x²),
//
// with A[0] = 1 always. Coefficients rounded to a number format's words are
// exact here, whatever the form.
type Digital struct {
	Form Form
	B, A [3]float64
}

// Through is the section that changes nothing, in the given form.
func Through(f Form) Digital {
	return Digital{Form: f, B: [3]float64{1}, A: [3]float64{1}}
}

// To is the same section written in another form. The constant terms of low
// corners are differences of nearly equal numbers in the direct form, so a
// section loses digits on the way into it, never on the way out again.
func (d Digital) To(f Form) Digital {
	if f.Origin() == d.Form.Origin() {
		d.Form = f
		return d
	}
	n, h := d.Order(), f.Origin()-d.Form.Origin()
	return Digital{Form: f, B: shift(d.B, n, h), A: shift(d.A, n, h)}
}

// shift rewrites c0·(t+h)ⁿ + c1·(t+h)ⁿ⁻¹ + … in powers of t. Keeping to the
// section's own order n matters: a first-order section treated as second
// order would gain a pole and a zero at the old form's origin. Every product
// is rounded on its own so that all platforms agree.
func shift(c [3]float64, n int, h float64) [3]float64 {
	switch n {
	case 0:
		return [3]float64{c[0]}
	case 1:
		return [3]float64{c[0], c[1] + float64(h*c[0])}
	}
	return [3]float64{
		c[0],
		c[1] + float64(2*h*c[0]),
		float64(float64(h*h*c[0])+float64(h*c[1])) + c[2],
	}
}

// Point is a place on the unit circle, kept as the distances from z = 1 and
// z = -1 so that neither end of the frequency range loses digits.
type Point struct {
	FromOne, FromMinusOne complex128 // z-1 and z+1
}

// PointAt is the point of hz at the sampling rate rateHz (both Hz), with
// z-1 = -2·sin²(ω/2) + j·sin ω.
func PointAt(hz, rateHz float64) Point {
	s, c := math.Sincos(math.Pi * hz / rateHz)
	im := 2 * s * c
	return Point{complex(-2*s*s, im), complex(2*c*c, im)}
}

// At is the response at a point of the unit circle, from the end of the frequency range
// that is nearer: z-1 below a quarter of the rate, z+1 above.
func (d Digital) At(p Point) complex128 {
	n, t, to := d.Order(), p.FromOne, 1.0
	if real(p.FromMinusOne) < 1 {
		t, to = p.FromMinusOne, -1
	}
	to -= d.Form.Origin()
	return quotient(evaluate(shift(d.B, n, to), n, t), evaluate(shift(d.A, n, to), n, t))
}

// Multiply multiplies dst by the response at each point, as At has it.
func (d Digital) Multiply(dst []complex128, pts []Point) {
	n := d.Order()
	low, high := 1-d.Form.Origin(), -1-d.Form.Origin()
	bl, al := shift(d.B, n, low), shift(d.A, n, low)
	bh, ah := shift(d.B, n, high), shift(d.A, n, high)
	for i, p := range pts {
		if real(p.FromMinusOne) < 1 {
			dst[i] *= quotient(evaluate(bh, n, p.FromMinusOne), evaluate(ah, n, p.FromMinusOne))
		} else {
			dst[i] *= quotient(evaluate(bl, n, p.FromOne), evaluate(al, n, p.FromOne))
		}
	}
}

// tiniest stands in for a denominator of zero.
const tiniest = 1e-300

// quotient is a/b for finite numbers far from overflow. The language's own complex
// division spends most of its time on cases that
// sections do not have; a pole right at the frequency gives a huge number.
func quotient(a, b complex128) complex128 {
	m := max(real(b)*real(b)+imag(b)*imag(b), tiniest)
	return complex((real(a)*real(b)+imag(a)*imag(b))/m, (imag(a)*real(b)-real(a)*imag(b))/m)
}

// evaluate is c0·tⁿ + c1·tⁿ⁻¹ + ….
func evaluate(c [3]float64, n int, t complex128) complex128 {
	re, im := real(t), imag(t)
	switch n {
	case 0:
		return complex(c[0], 0)
	case 1:
		return complex(c[0]*re+c[1], c[0]*im)
	}
	return complex(c[0]*(re-im)*(re+im)+c[1]*re+c[2], 2*c[0]*re*im+c[1]*im)
}

// Poles returns the poles in the z plane, as many as the order.
func (d Digital) Poles() []complex128 { return d.roots(d.A) }

// Zeros returns the zeros in the z plane, fewer than the order where B[0] is
// zero.
func (d Digital) Zeros() []complex128 { return d.roots(d.B) }

// Ringing returns the poles as the analog ones (rad/s) that ring alike at a
// sampling rate (Hz): s = ln(z)·rate, which a pole at z = 0 has at minus
// infinity.
func (d Digital) Ringing(rateHz float64) []complex128 {
	out := d.Poles()
	for i, z := range out {
		out[i] = complex(math.Log(cmplx.Abs(z))*rateHz, math.Atan2(imag(z), real(z))*rateHz)
	}
	return out
}

func (d Digital) roots(c [3]float64) []complex128 {
	rs := quadratic(reversed(c, d.Order()))
	for i := range rs {
		rs[i] += complex(d.Form.Origin(), 0)
	}
	return rs
}

// reversed turns coefficients of tⁿ, tⁿ⁻¹, … into those of 1, t, ….
func reversed(c [3]float64, n int) [3]float64 {
	var r [3]float64
	for k := 0; k <= n; k++ {
		r[n-k] = c[k]
	}
	return r
}

// PoleMargin is 1 - |z| of the outermost pole: positive for a stable section,
// 1 for one without poles. It is computed from the distance to z = 1, so that
// corners far below the rate keep their digits.
func (d Digital) PoleMargin() float64 {
	one, worst := d.To(Delta), 1.0
	for _, u := range quadratic(reversed(one.A, one.Order())) {
		// |1+u|² - 1 = 2·Re u + |u|²
		e := 2*real(u) + real(u)*real(u) + imag(u)*imag(u)
		worst = min(worst, -e/(1+cmplx.Abs(1+u)))
	}
	return worst
}

// Order is 0, 1 or 2: the highest power of the variable in use.
func (d Digital) Order() int {
	for k := 2; k > 0; k-- {
		if d.B[k] != 0 || d.A[k] != 0 {
			return k
		}
	}
	return 0
}

// Times is the product of two sections of first order or less, in the form
// of the receiver. It panics where the product has more than second order.
func (d Digital) Times(o Digital) Digital {
	o = o.To(d.Form)
	if d.Order()+o.Order() > 2 {
		panic("biquad: product of sections exceeds second order")
	}
	return Digital{Form: d.Form, B: product(d.B, o.B), A: product(d.A, o.A)}
}

func product(x, y [3]float64) [3]float64 {
	return [3]float64{
		x[0] * y[0],
		float64(x[0]*y[1]) + float64(x[1]*y[0]),
		float64(x[1]*y[1]) + float64(float64(x[0]*y[2])+float64(x[2]*y[0])),
	}
}

// Integers are a section's words as whole numbers: B[k] times 2 to the power of -BBits[k], and
// A[k] times 2 to the power of -ABits[k].
type Integers struct{ B, A, BBits, ABits [3]int }

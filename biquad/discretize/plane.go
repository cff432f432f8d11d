package discretize

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// planar is a digital section seen through the bilinear transform,
//
//	H = N(s) / D(s),  s = (z-1)/(z+1),
//
// with the coefficients of 1, s, s². The unit circle is s = jv with
// v = tan(ω/2), so that a section with positive D is stable whatever the
// values, corners far below the rate keep all their digits, and |H|² is a
// ratio of polynomials in y = v². All fits and matches of this package work
// here and leave the plane once, in digital.
type planar struct{ n, d [3]float64 }

// digital is the section in Delta form: with t = z-1, s = t/(t+2).
func (p planar) digital() biquad.Digital {
	if p.n[1] == 0 && p.n[2] == 0 && p.d[1] == 0 && p.d[2] == 0 {
		return biquad.Digital{Form: biquad.Delta, B: [3]float64{p.n[0] / p.d[0]}, A: [3]float64{1}}
	}
	var b, a [3]float64
	if p.n[2] == 0 && p.d[2] == 0 {
		b = [3]float64{p.n[0] + p.n[1], 2 * p.n[0]}
		a = [3]float64{p.d[0] + p.d[1], 2 * p.d[0]}
	} else {
		b = intoDelta(p.n)
		a = intoDelta(p.d)
	}
	for k := range b {
		b[k] /= a[0]
	}
	return biquad.Digital{Form: biquad.Delta, B: b, A: [3]float64{1, a[1] / a[0], a[2] / a[0]}}
}

// intoDelta is c(s)·(t+2)² in powers t², t, 1.
func intoDelta(c [3]float64) [3]float64 {
	return [3]float64{c[0] + c[1] + c[2], float64(4*c[0]) + float64(2*c[1]), 4 * c[0]}
}

// warp is v = tan(ω/2) of a frequency in Hz.
func warp(hz, rateHz float64) float64 { return math.Tan(math.Pi * hz / rateHz) }

// tanh is the hyperbolic tangent of x, Re x ≤ 0, that keeps its digits near
// zero: (e²ˣ-1)/(e²ˣ+1) with e²ˣ-1 taken as one function.
func tanh(x complex128) complex128 {
	e := math.Expm1(2 * real(x))
	s, c := math.Sincos(imag(x))
	sin2, cos2 := 2*s*c, (c-s)*(c+s)
	m := complex(float64(e*cos2)-float64(2*s*s), float64((e+1)*sin2))
	return m / (m + 2)
}

// mapped is the denominator of the section whose poles are e^(pT) for the
// analog poles p. Poles on or right of the imaginary axis are refused by the
// caller.
func mapped(poles []complex128, rateHz float64) [3]float64 {
	d := [3]float64{1}
	half := complex(0.5/rateHz, 0)
	switch len(poles) {
	case 1:
		d = [3]float64{-real(tanh(poles[0] * half)), 1}
	case 2:
		a, b := tanh(poles[0]*half), tanh(poles[1]*half)
		d = [3]float64{real(a * b), -real(a + b), 1}
	}
	return d
}

// power is |c(jv)|² for y = v².
func power(c [3]float64, y float64) float64 {
	re := c[0] - c[2]*y
	return float64(re*re) + float64(c[1]*c[1]*y)
}

// margin is 1-|z| of the outermost root of a denominator.
func margin(d [3]float64) float64 {
	m := 1.0
	for _, s := range roots(d) {
		// |z|² = |1+s|²/|1-s|²; 1-|z|² = -4·Re s/|1-s|².
		q := cmplx.Abs(1 - s)
		e := -4 * real(s) / (q * q)
		m = min(m, e/(1+cmplx.Abs(1+s)/q))
	}
	return m
}

// roots are those of c[0] + c[1]·s + c[2]·s².
func roots(c [3]float64) []complex128 {
	return biquad.Analog{W0: 1, B: c, A: [3]float64{1}}.Zeros()
}

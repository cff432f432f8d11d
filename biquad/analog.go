// Package biquad holds the sections that everything else is made of: analog
// and digital sections of first and second order, cascades of them whose
// positions may hold alternatives under settings, and their responses.
//
// It knows nothing of specs, files or targets. Frequencies are in hertz where
// a name says Hz and in rad/s elsewhere, gains are linear unless a name says
// DB. The one invariant: no exported value holds a NaN or an infinity.
//
// Read first: Analog, Digital, Cascade.
package biquad

import "math"

// Analog is one analog section of first or second order,
//
//	H(s) = (B[0] + B[1]·p + B[2]·p²) / (A[0] + A[1]·p + A[2]·p²),  p = s/W0,
//
// with coefficients near one because W0 (rad/s) is the section's own scale.
// A constant section has W0 = 1, B = {g, 0, 0} and A = {1, 0, 0}.
type Analog struct {
	W0 float64 // rad/s, > 0: what the coefficients are normalised to
	// Keep (rad/s) is the frequency at which a frequency-warping transform
	// keeps the response: the corner of the whole filter that the section
	// belongs to, not the section's own.
	Keep float64
	B, A [3]float64
}

// Constant is the section H = gain (linear).
func Constant(gain float64) Analog {
	return Analog{W0: 1, Keep: 1, B: [3]float64{gain}, A: [3]float64{1}}
}

// Order is 0, 1 or 2: the greater degree of numerator and denominator.
func (a Analog) Order() int {
	for k := 2; k > 0; k-- {
		if a.B[k] != 0 || a.A[k] != 0 {
			return k
		}
	}
	return 0
}

// At is the response at w (rad/s, ≥ 0).
func (a Analog) At(w float64) complex128 {
	x := w / a.W0
	return quotient(complex(a.B[0]-a.B[2]*x*x, a.B[1]*x), complex(a.A[0]-a.A[2]*x*x, a.A[1]*x))
}

// InSeries is the response of sections in series at w (rad/s, ≥ 0): 1 of none.
func InSeries(sections []Analog, w float64) complex128 {
	h := complex(1, 0)
	for _, s := range sections {
		h *= s.At(w)
	}
	return h
}

// Poles returns the poles in rad/s, as many as the denominator's degree.
func (a Analog) Poles() []complex128 { return scaled(quadratic(a.A), a.W0) }

// Zeros returns the finite zeros in rad/s.
func (a Analog) Zeros() []complex128 { return scaled(quadratic(a.B), a.W0) }

// Stable reports whether every pole lies in the open left half plane.
func (a Analog) Stable() bool {
	for _, p := range a.Poles() {
		if !(real(p) < 0) {
			return false
		}
	}
	return true
}

// Natural is the frequency (rad/s) of the pole pair, or of the single pole,
// and its Q (0.5 or less for two real poles, 0 for a single one). A section
// without poles returns zeros.
func (a Analog) Natural() (w, q float64) {
	switch {
	case a.A[2] != 0 && a.A[0] != 0:
		r := math.Sqrt(a.A[0] / a.A[2])
		if a.A[1] == 0 {
			return a.W0 * r, 0
		}
		return a.W0 * r, math.Sqrt(a.A[0]*a.A[2]) / math.Abs(a.A[1])
	case a.A[1] != 0:
		return a.W0 * math.Abs(a.A[0]/a.A[1]), 0
	}
	return 0, 0
}

// scaled multiplies every root by w.
func scaled(roots []complex128, w float64) []complex128 {
	for i := range roots {
		roots[i] *= complex(w, 0)
	}
	return roots
}

// quadratic returns the roots of c[0] + c[1]·x + c[2]·x², of lower degree
// where leading coefficients are zero. The stable formula that never
// subtracts nearly equal numbers is from Press et al., Numerical Recipes,
// section 5.6.
func quadratic(c [3]float64) []complex128 {
	if c[2] == 0 {
		if c[1] == 0 {
			return nil
		}
		return []complex128{complex(-c[0]/c[1], 0)}
	}
	half := c[1] / (2 * c[2])
	d := half*half - c[0]/c[2]
	if d < 0 {
		im := math.Sqrt(-d)
		return []complex128{complex(-half, im), complex(-half, -im)}
	}
	q := -(half + math.Copysign(math.Sqrt(d), half))
	if q == 0 {
		return []complex128{0, 0}
	}
	return []complex128{complex(q, 0), complex(c[0]/c[2]/q, 0)}
}

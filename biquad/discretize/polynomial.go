package discretize

import (
	"math"
	"math/cmplx"
)

// horner is the value of c[0] + c[1]·y + ….
func horner(c []float64, y float64) float64 {
	s := 0.0
	for k := len(c) - 1; k >= 0; k-- {
		s = float64(s*y) + c[k]
	}
	return s
}

// polynomialRoots are the roots of c[0] + c[1]·y + …, by the simultaneous
// iteration of Ehrlich and Aberth from the circles of D. A. Bini, "Numerical
// computation of polynomial zeros by means of Aberth's method", Numer.
// Algorithms 13 (1996), which serve roots of very different sizes. Conjugate
// pairs come out exact, imaginary parts below rounding as zero. It fails
// where c[0] is zero. biquad.Roots certifies its digits and takes a thousand
// times as long; here a root that is off shows in the audit of the fit.
func polynomialRoots(c []float64) ([]complex128, bool) {
	if len(c) < 2 {
		return nil, true
	}
	if c[0] == 0 {
		return nil, false
	}
	zs := circles(c)
	moving := true
	for it := 0; it < 200 && moving; it++ {
		moving = false
		for i, z := range zs {
			p, dp := newton(c, z)
			var sum complex128
			for k, o := range zs {
				if k != i && z != o {
					sum += 1 / (z - o)
				}
			}
			step := p / (dp - p*sum)
			if p == 0 || cmplx.IsNaN(step) || cmplx.IsInf(step) {
				continue
			}
			zs[i] = z - step
			if cmplx.Abs(step) > 1e-15*cmplx.Abs(z) {
				moving = true
			}
		}
	}
	return conjugated(zs)
}

// circles are first approximations: the slopes of the upper convex hull of
// (k, log|c_k|) are the sizes of the roots.
func circles(c []float64) []complex128 {
	var hull []int
	l := make([]float64, len(c))
	for k, x := range c {
		if x == 0 {
			continue
		}
		l[k] = math.Log2(math.Abs(x))
		for len(hull) > 1 {
			a, b := hull[len(hull)-2], hull[len(hull)-1]
			if (l[b]-l[a])*float64(k-a) > (l[k]-l[a])*float64(b-a) {
				break
			}
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, k)
	}
	var zs []complex128
	for i := 1; i < len(hull); i++ {
		a, b := hull[i-1], hull[i]
		r := math.Exp2((l[a] - l[b]) / float64(b-a))
		for k := 0; k < b-a; k++ {
			s, co := math.Sincos(2*math.Pi*float64(k)/float64(b-a) + 0.7*float64(i) + 0.4)
			zs = append(zs, complex(r*co, r*s))
		}
	}
	return zs
}

// newton is c and its derivative at z but for a common factor, in 1/z outside
// the unit circle so that large degrees do not overflow.
func newton(c []float64, z complex128) (p, dp complex128) {
	if cmplx.Abs(z) <= 1 {
		for k := len(c) - 1; k >= 0; k-- {
			dp = dp*z + p
			p = p*z + complex(c[k], 0)
		}
		return p, dp
	}
	// c(z) = zⁿ·r(w) with w = 1/z; c′(z) = zⁿ·w·(n·r - w·r′).
	w := 1 / z
	var r, dr complex128
	for _, x := range c {
		dr = dr*w + r
		r = r*w + complex(x, 0)
	}
	n := complex(float64(len(c)-1), 0)
	return r, w * (n*r - w*dr)
}

// realRoot is the imaginary part, relative to the size, that is taken for
// rounding.
const realRoot = 1e-13

// conjugated makes real roots real and conjugate pairs exact.
func conjugated(zs []complex128) ([]complex128, bool) {
	var out []complex128
	used := make([]bool, len(zs))
	for i, z := range zs {
		if used[i] {
			continue
		}
		used[i] = true
		best, at := math.Abs(imag(z)), -1
		if best >= realRoot*cmplx.Abs(z) {
			for k, o := range zs {
				if d := cmplx.Abs(o - cmplx.Conj(z)); !used[k] && d < best {
					best, at = d, k
				}
			}
		}
		if at < 0 { // real, or without a partner nearer than its own mirror image
			out = append(out, complex(real(z), 0))
			continue
		}
		used[at] = true
		m := (z + cmplx.Conj(zs[at])) / 2
		m = complex(real(m), math.Abs(imag(m)))
		out = append(out, m, cmplx.Conj(m))
	}
	for _, z := range out {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return nil, false
		}
	}
	return out, true
}

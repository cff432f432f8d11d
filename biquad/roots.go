package biquad

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// MaxDegree is the highest degree that Roots accepts: more than any filter
// needs, and a bound on its run time (20 ms at degree 24, a second at worst).
const MaxDegree = 32

// Precisions of the root finder in bits. The first serves every filter met so
// far; the last separates roots that the float64 coefficients of a polynomial
// of degree 24 can still tell apart.
const (
	firstBits = 256
	lastBits  = 16384
)

// lgAccuracy is the binary logarithm of the relative error that a root is
// certified to before it is rounded to float64: so small that the real part
// of a pair of Q 1e10 still has all its digits.
const lgAccuracy = -100

// Roots returns the roots of c[0] + c[1]·x + c[2]·x² + …, with multiplicity,
// each rounded correctly but for the last bit. Zero coefficients at the top
// lower the degree. Real roots are exactly real, complex ones come in exact
// conjugate pairs with the positive imaginary part first, purely imaginary
// ones have a real part of exactly zero; the order is by modulus, then by real
// part.
//
// Repeated roots are split off first by exact integer arithmetic (the
// square-free factorisation of Musser, J. ACM 22, 1975), because no
// iteration finds them well. The simple roots then come from the simultaneous
// iteration of Aberth (Math. Comp. 27, 1973) in math/big, from starting values
// on the circles of the Newton polygon (Bini, Numer. Algorithms 13, 1996), and
// are accepted when their Gershgorin discs (Smith, J. ACM 17, 1970) are small
// and disjoint; else the precision is doubled.
//
// It fails for coefficients that are all zero or not finite, above MaxDegree,
// for roots outside the range of float64, and for roots too close to be told
// apart at the last precision.
func Roots(c []float64) ([]complex128, error) {
	for k, v := range c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("biquad: coefficient %d is not finite", k)
		}
	}
	for len(c) > 0 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	if len(c) == 0 {
		return nil, errors.New("biquad: every coefficient is zero")
	}
	if len(c)-1 > MaxDegree {
		return nil, fmt.Errorf("biquad: degree %d is above %d", len(c)-1, MaxDegree)
	}
	var out []complex128
	for c[0] == 0 {
		out, c = append(out, 0), c[1:]
	}
	for k, factor := range squareFree(integers(c)) {
		rs, err := simpleRoots(factor)
		if err != nil {
			return nil, err
		}
		for range k + 1 {
			out = append(out, rs...)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return before(out[i], out[j]) })
	return out, nil
}

// before orders roots so that the members of a pair stay together.
func before(a, b complex128) bool {
	if x, y := math.Hypot(real(a), imag(a)), math.Hypot(real(b), imag(b)); x != y {
		return x < y
	}
	if real(a) != real(b) {
		return real(a) < real(b)
	}
	if x, y := math.Abs(imag(a)), math.Abs(imag(b)); x != y {
		return x < y
	}
	return false // equal or conjugate: as they were appended, pair by pair
}

// disc is a point of the iteration with the logarithm of the radius in which
// exactly one root lies, once it is certified.
type disc struct {
	z   *point
	lgR float64
}

// simpleRoots finds the roots of a square-free polynomial with p[0] ≠ 0.
func simpleRoots(p polynomial) ([]complex128, error) {
	if p.degree() == 0 {
		return nil, nil
	}
	for bits := uint(firstBits); bits <= lastBits; bits *= 2 {
		h := p.at(bits)
		if ds, ok := certify(h, aberth(h)); ok {
			return rounded(ds)
		}
	}
	return nil, errors.New("biquad: roots too close to each other to be told apart")
}

// rounded turns certified discs into float64 roots, pairs from their upper
// member.
func rounded(ds []disc) ([]complex128, error) {
	var out []complex128
	for _, d := range ds {
		re, _ := d.z.re.Float64()
		im, _ := d.z.im.Float64()
		if lg(&d.z.re) <= d.lgR {
			re = 0
		}
		onAxis := lg(&d.z.im) <= d.lgR
		if onAxis {
			im = 0
		}
		if m := math.Hypot(re, im); m == 0 || math.IsInf(m, 0) {
			return nil, errors.New("biquad: a root lies outside the range of float64")
		}
		switch {
		case onAxis:
			out = append(out, complex(re, 0))
		case im > 0:
			out = append(out, complex(re, im), complex(re, -im))
		}
	}
	if len(out) != len(ds) {
		return nil, errors.New("biquad: roots do not pair")
	}
	return out, nil
}

// certify computes the discs and says whether each holds one root, is as
// small as asked, and keeps clear of the others (and so of their mirror
// images: a disc that touches the real axis then holds a real root).
func certify(p horner, zs []*point) ([]disc, bool) {
	n, bits := p.degree(), p.bits
	ds := make([]disc, n)
	for i, z := range zs {
		v, _, lgErr := p.at(z)
		s := math.Max(v.lg(), lgErr) + 1 - p.lg[n] + math.Log2(float64(n))
		for j, o := range zs {
			if j != i {
				s -= minus(z, o, bits).lgLow()
			}
		}
		ds[i] = disc{z, s}
		if !(s <= z.lgLow()+lgAccuracy) {
			return nil, false
		}
	}
	for i := range ds {
		for j := range i {
			if minus(ds[i].z, ds[j].z, bits).lgLow() < math.Max(ds[i].lgR, ds[j].lgR)+3 {
				return nil, false
			}
		}
	}
	return ds, true
}

// aberth iterates from the Newton polygon's circles until no root moves by
// more than a small part of lgAccuracy, or none can be improved at this
// precision.
func aberth(p horner) []*point {
	zs, bits := p.start(), p.bits
	done := make([]bool, len(zs))
	// Sixty rounds have been enough for every polynomial tried, the worst
	// being chains of clusters; what has not converged is not certified.
	for range 60 + 4*len(zs) {
		moving := false
		for i, z := range zs {
			if done[i] {
				continue
			}
			v, d, lgErr := p.at(z)
			if v.lg() <= lgErr {
				done[i] = true
				continue
			}
			sum := newPoint(bits)
			for j, o := range zs {
				if j != i {
					sum = plus(sum, over(one(bits), minus(z, o, bits), bits), bits)
				}
			}
			// p/(p' - p·Σ1/(z-zj)) is Aberth's step.
			step := over(v, minus(d, times(v, sum, bits), bits), bits)
			zs[i] = minus(z, step, bits)
			if step.lg() <= z.lg()+lgAccuracy-8 {
				done[i] = true
			} else {
				moving = true
			}
		}
		if !moving {
			break
		}
	}
	return zs
}

// start places the first approximations: for each edge of the upper convex
// hull of (k, log2|c_k|), as many points as the edge is long on the circle
// whose radius is its slope.
func (h horner) start() []*point {
	n := h.degree()
	var zs []*point
	for i := 0; i < n; {
		next, slope := 0, math.Inf(-1)
		for j := i + 1; j <= n; j++ {
			if s := (h.lg[j] - h.lg[i]) / float64(j-i); s >= slope {
				next, slope = j, s
			}
		}
		m := next - i
		whole := math.Floor(-slope)
		r := math.Exp2(-slope - whole)
		for k := range m {
			// The turn of 0.7 rad keeps the points off the axes' symmetry.
			s, c := math.Sincos(2*math.Pi*(float64(k)/float64(m)+float64(i)/float64(n)) + 0.7)
			z := newPoint(h.bits)
			z.re.SetMantExp(z.re.SetFloat64(r*c), int(whole))
			z.im.SetMantExp(z.im.SetFloat64(r*s), int(whole))
			zs = append(zs, z)
		}
		i = next
	}
	return zs
}

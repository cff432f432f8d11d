package discretize

import (
	"math"
	"math/cmplx"
	"sort"

	"bandwright/biquad"
)

// ratioModel is |H|² of a cascade as a ratio of polynomials in y,
//
//	|H|² = y^dc · Π(1 - y/a)² · P(y)/Q(y),
//
// with the coefficients of P and Q as parameters, but for one of Q that is
// fixed. In these parameters there are no saddles where sections coincide or
// cancel, and the best bound on the error is a quasi-convex problem (H. L.
// Loeb, "Algorithms for Chebyshev approximations using the ratio of linear
// forms", J. SIAM 8, 1960), so that damped Newton steps reach it from almost
// any start. What it cannot express are limits on poles.
type ratioModel struct {
	dc    int
	axis  []float64 // a: squares of zeros on the axis
	p, q  []float64
	fixed int // index into q
}

// spare says where the pole and zero pairs that cancel at the start of a fit
// lie: the coefficients of 1, y, y² of a factor that stands above and below.
type spare [3]float64

// Where first-order sections get their second pole and zero, and the starts
// for extra biquads, the most successful one first.
var (
	raised = [2]float64{1, 1} // y = -1: z = 0
	spares = [...]spare{{4, 2, 1}, {36, 18, 1}, {0.25, 1.5, 1}, {64, -8, 1}, {0.01, 0.1, 1}, {1600, 40, 1}}
)

// ratioModelOf multiplies sections out, raises each to second order and adds
// the extra pairs. The coefficient of Q that dominates at y is fixed.
func ratioModelOf(ps []planar, y float64, extra []spare) *ratioModel {
	r := &ratioModel{p: []float64{1}, q: []float64{1}}
	for _, s := range ps {
		n, d := square(s.n), square(s.d)
		if s.n[1] == 0 && s.n[0]*s.n[2] > 0 {
			r.axis = append(r.axis, s.n[0]/s.n[2])
			n = []float64{s.n[0] * s.n[0]}
		}
		for len(n) > 1 && n[0] == 0 {
			n = n[1:]
			r.dc++
		}
		if s.d[2] == 0 {
			n, d = biquad.Times(n, raised[:]), biquad.Times(d[:2], raised[:])
		}
		r.p, r.q = biquad.Times(r.p, n), biquad.Times(r.q, d)
	}
	for _, c := range extra {
		r.p, r.q = biquad.Times(r.p, c[:]), biquad.Times(r.q, c[:])
	}
	// The numerator may use every degree that its fixed zeros leave.
	want := max(len(r.q)-r.dc-2*len(r.axis), 1)
	for len(r.p) < want {
		r.p = append(r.p, 0)
	}
	r.p = r.p[:want]
	best, w := 0.0, 1.0
	for k, c := range r.q {
		if m := math.Abs(c) * w; m > best {
			best, r.fixed = m, k
		}
		w *= y
	}
	return r
}

// square is |c(jv)|² in powers of y.
func square(c [3]float64) []float64 {
	return []float64{c[0] * c[0], float64(c[1]*c[1]) - float64(2*c[0]*c[2]), c[2] * c[2]}
}

func (r *ratioModel) size() int { return len(r.p) + len(r.q) - 1 }

func (r *ratioModel) level(y float64, row []float64) float64 {
	p, q := horner(r.p, y), horner(r.q, y)
	if !(p > 0 && q > 0) {
		return math.Inf(1)
	}
	if row != nil {
		w := biquad.DBPerNeper / 2 / p
		for k := range r.p {
			row[k] = w
			w *= y
		}
		w = -biquad.DBPerNeper / 2 / q
		i := len(r.p)
		for k := range r.q {
			if k != r.fixed {
				row[i] = w
				i++
			}
			w *= y
		}
	}
	h := p / q
	for k := 0; k < r.dc; k++ {
		h *= y
	}
	for _, a := range r.axis {
		x := 1 - y/a
		h *= float64(x*x) + tiny
	}
	return biquad.DBPerNeper / 2 * math.Log(h)
}

func (r *ratioModel) moved(x []float64) model {
	m := *r
	m.p, m.q = append([]float64(nil), r.p...), append([]float64(nil), r.q...)
	for k := range m.p {
		m.p[k] += x[k]
	}
	i := len(m.p)
	for k := range m.q {
		if k != m.fixed {
			m.q[k] += x[i]
			i++
		}
	}
	return &m
}

// planars are sections with that response at y, where it must not vanish, in
// no particular order. There are none where Q has a root on the positive axis
// or the roots could not be found.
func (r *ratioModel) planars(y float64) ([]planar, bool) {
	ds, ok := factors(r.q, false)
	if !ok {
		return nil, false
	}
	ns, ok := factors(r.p, true)
	if !ok {
		return nil, false
	}
	for _, a := range r.axis {
		ns = append(ns, [3]float64{1, 0, 1 / a})
	}
	if r.dc%2 == 1 {
		ns = withZeroAtDC(ns)
	}
	for k := 0; k < r.dc/2; k++ {
		ns = append(ns, [3]float64{0, 0, 1})
	}
	ps, ok := paired(ns, ds)
	if !ok {
		return nil, false
	}
	level(ps, y, r.level(y, nil))
	return ps, true
}

// withZeroAtDC gives one zero at DC to a first-order numerator, or adds it on
// its own where there is none.
func withZeroAtDC(ns [][3]float64) [][3]float64 {
	for i, n := range ns {
		if n[2] == 0 {
			ns[i] = [3]float64{0, n[0], n[1]}
			return ns
		}
	}
	return append(ns, [3]float64{0, 1, 0})
}

// factors are first- and second-order polynomials in s whose squared
// magnitudes on the axis multiply to c(y) but for a constant. Positive roots
// of y are an error unless touching is allowed, where a pair of them becomes
// one double root on the axis.
func factors(c []float64, touching bool) ([][3]float64, bool) {
	for len(c) > 1 && c[len(c)-1] == 0 {
		c = c[:len(c)-1]
	}
	rs, ok := polynomialRoots(c)
	if !ok {
		return nil, false
	}
	var out [][3]float64
	var reals, onAxis []float64
	for _, y := range rs {
		switch {
		case imag(y) > 0:
			out = append(out, [3]float64{cmplx.Abs(y), 2 * real(cmplx.Sqrt(-y)), 1})
		case imag(y) < 0: // its conjugate has been taken
		case real(y) < 0:
			reals = append(reals, math.Sqrt(-real(y)))
		default:
			onAxis = append(onAxis, real(y))
		}
	}
	if len(onAxis) > 0 && !touching {
		return nil, false
	}
	sort.Float64s(onAxis)
	// A lone one lies beyond the spots, where the numerator falls through
	// zero; the zero is left out.
	for i := 0; i+1 < len(onAxis); i += 2 {
		out = append(out, [3]float64{math.Sqrt(onAxis[i] * onAxis[i+1]), 0, 1})
	}
	sort.Float64s(reals)
	for i := 0; i < len(reals); i += 2 {
		if i+1 < len(reals) {
			a, b := reals[i], reals[i+1]
			out = append(out, [3]float64{a * b, a + b, 1})
		} else {
			out = append(out, [3]float64{reals[i], 1, 0})
		}
	}
	return out, true
}

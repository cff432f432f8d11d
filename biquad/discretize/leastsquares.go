package discretize

import (
	"math"
	"slices"
)

// leastSquares is the linear least-squares problem of one damped Newton step,
// kept as rows rather than as normal equations: near-cancelling sections make
// columns agree to eight digits and more, of which a product of the rows with
// themselves would leave nothing.
type leastSquares struct {
	n, m int
	a    []float64 // m rows of n+1: weighted derivatives and right side
	r    []float64 // n+1 rows: the triangle and its right side
	b    []float64 // work for the damped triangle, 2n rows
	norm []float64 // column norms, for the damping
	x    []float64
	part part // work for what adds parts
	work reflector
}

func newLeastSquares(n, rows int) *leastSquares {
	w := n + 1
	return &leastSquares{n: n, a: make([]float64, 0, rows*w), r: make([]float64, w*w), b: make([]float64, 2*n*w), norm: make([]float64, n), x: make([]float64, n)}
}

func (s *leastSquares) clear() { s.a, s.m = s.a[:0], 0 }

// add appends one row weight·J with right side y.
func (s *leastSquares) add(row []float64, weight, y float64) {
	out := s.append()
	for k, x := range row[:s.n] {
		out[k] = weight * x
	}
	out[s.n] = y
}

// append is a row more, to be filled in.
func (s *leastSquares) append() []float64 {
	from := len(s.a)
	s.a = slices.Grow(s.a, s.n+1)[:from+s.n+1]
	s.m++
	return s.a[from:]
}

// columns are those in which a row may be other than zero: from lo to hi and, where last
// is set, the last one.
type columns struct {
	lo, hi int
	last   bool
}

// count is how many columns they are.
func (at columns) count() int {
	if at.last {
		return at.hi - at.lo + 1
	}
	return at.hi - at.lo
}

// part is rows of one part of a model, in some columns: they are compressed before they
// meet those that join the parts.
type part struct {
	columns
	rows []float64
}

func (p *part) begin(at columns) { p.columns, p.rows = at, p.rows[:0] }

// add appends one row weight·J with right side y.
func (p *part) add(row []float64, weight, y float64) {
	k, from := p.count(), len(p.rows)
	p.rows = slices.Grow(p.rows, k+1)[:from+k+1]
	out := p.rows[from:]
	for i, x := range row[p.lo:p.hi] {
		out[i] = weight * x
	}
	if p.last {
		out[k-1] = weight * row[len(row)-1]
	}
	out[k] = y
}

// addPart appends the rows of a part, where they are more than its columns as a triangle.
func (s *leastSquares) addPart(p *part) {
	k := p.count()
	m := len(p.rows) / (k + 1)
	if m > k {
		s.work.triangulate(p.rows, m, k, k+1)
		m = k
	}
	for i := range m {
		row, out := p.rows[i*(k+1):(i+1)*(k+1)], s.append()
		clear(out)
		copy(out[p.lo:p.hi], row)
		if p.last {
			out[s.n-1] = row[k-1]
		}
		out[s.n] = row[k]
	}
}

// factor turns the rows into a triangle.
func (s *leastSquares) factor() {
	w := s.n + 1
	clear(s.norm)
	for i := range s.m { // row by row, as they lie in memory
		for k, x := range s.a[i*w : i*w+s.n] {
			s.norm[k] += x * x
		}
	}
	for k, sum := range s.norm {
		s.norm[k] = math.Sqrt(sum)
	}
	s.work.triangulate(s.a, s.m, s.n, w)
	clear(s.r)
	for i := 0; i < s.n && i < s.m; i++ {
		copy(s.r[i*w+i:(i+1)*w], s.a[i*w+i:(i+1)*w])
	}
}

// solve puts the step that minimises |A·x - b|² + λ·|D·x|² into x, D the
// column norms. It reports whether the step is finite.
func (s *leastSquares) solve(lambda float64) bool {
	n, w := s.n, s.n+1
	clear(s.b)
	copy(s.b, s.r[:n*w])
	root := math.Sqrt(lambda)
	for i := 0; i < n; i++ {
		d := s.norm[i]
		if d == 0 {
			d = 1
		}
		s.b[(n+i)*w+i] = root * d
	}
	s.work.triangulate(s.b, 2*n, n, w)
	for i := n - 1; i >= 0; i-- {
		sum := s.b[i*w+n]
		for k := i + 1; k < n; k++ {
			sum -= s.b[i*w+k] * s.x[k]
		}
		s.x[i] = sum / s.b[i*w+i]
		if math.IsNaN(s.x[i]) || math.IsInf(s.x[i], 0) {
			return false
		}
	}
	return true
}

// again solves for another right side Aᵀ·y with the triangle R of the last
// solve, in place: RᵀR·x = y.
func (s *leastSquares) again(y []float64) {
	n, w := s.n, s.n+1
	for k := 0; k < n; k++ { // row by row, as they lie in memory
		row := s.b[k*w : k*w+n]
		v := y[k] / row[k]
		y[k] = v
		for i := k + 1; i < n; i++ {
			y[i] -= row[i] * v
		}
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			y[i] -= s.b[i*w+k] * y[k]
		}
		y[i] /= s.b[i*w+i]
	}
}

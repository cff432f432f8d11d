package discretize

import "math"

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
	part []float64 // work for compress
}

func newLeastSquares(n, rows int) *leastSquares {
	w := n + 1
	return &leastSquares{n: n, a: make([]float64, 0, rows*w), r: make([]float64, w*w), b: make([]float64, 2*n*w), norm: make([]float64, n), x: make([]float64, n)}
}

func (s *leastSquares) clear() { s.a, s.m = s.a[:0], 0 }

// add appends one row weight·J with right side y.
func (s *leastSquares) add(row []float64, weight, y float64) {
	for _, x := range row[:s.n] {
		s.a = append(s.a, weight*x)
	}
	s.a = append(s.a, y)
	s.m++
}

// compress replaces the rows from the given one on, which are zero outside the
// columns lo to hi and, where last is set, the last one, by a triangle of as
// many rows at most. Rows of one part of a model are compressed before they
// meet those that join the parts.
func (s *leastSquares) compress(from, lo, hi int, last bool) {
	w, k := s.n+1, hi-lo
	tail := s.n // the columns kept behind hi: the right side, or the last too
	if last {
		tail--
	}
	k += s.n - tail
	m := s.m - from
	if m <= k {
		return
	}
	if cap(s.part) < m*(k+1) {
		s.part = make([]float64, m*(k+1))
	}
	part := s.part[:m*(k+1)]
	for i := 0; i < m; i++ {
		row := s.a[(from+i)*w : (from+i+1)*w]
		copy(part[i*(k+1):], row[lo:hi])
		copy(part[i*(k+1)+hi-lo:], row[tail:])
	}
	triangulate(part, m, k, k+1)
	for i := 0; i < k; i++ {
		row := s.a[(from+i)*w : (from+i+1)*w]
		copy(row[lo:hi], part[i*(k+1):])
		copy(row[tail:], part[i*(k+1)+hi-lo:(i+1)*(k+1)])
	}
	s.m = from + k
	s.a = s.a[:s.m*w]
}

// factor turns the rows into a triangle by Householder's reflections (Golub
// and Van Loan, Matrix Computations, section 5.2).
func (s *leastSquares) factor() {
	w := s.n + 1
	for k := range s.norm {
		sum := 0.0
		for i := 0; i < s.m; i++ {
			x := s.a[i*w+k]
			sum += x * x
		}
		s.norm[k] = math.Sqrt(sum)
	}
	triangulate(s.a, s.m, s.n, w)
	for i := range s.r {
		s.r[i] = 0
	}
	for i := 0; i < s.n && i < s.m; i++ {
		copy(s.r[i*w+i:(i+1)*w], s.a[i*w+i:(i+1)*w])
	}
}

// solve puts the step that minimises |A·x - b|² + λ·|D·x|² into x, D the
// column norms. It reports whether the step is finite.
func (s *leastSquares) solve(lambda float64) bool {
	n, w := s.n, s.n+1
	for i := range s.b {
		s.b[i] = 0
	}
	copy(s.b, s.r[:n*w])
	root := math.Sqrt(lambda)
	for i := 0; i < n; i++ {
		d := s.norm[i]
		if d == 0 {
			d = 1
		}
		s.b[(n+i)*w+i] = root * d
	}
	triangulate(s.b, 2*n, n, w)
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
	for i := 0; i < n; i++ {
		for k := 0; k < i; k++ {
			y[i] -= s.b[k*w+i] * y[k]
		}
		y[i] /= s.b[i*w+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			y[i] -= s.b[i*w+k] * y[k]
		}
		y[i] /= s.b[i*w+i]
	}
}

// triangulate reflects the first n columns of m rows of width w into an upper
// triangle in place.
func triangulate(a []float64, m, n, w int) {
	dots := make([]float64, w)
	below := make([]int, 0, m) // where the rows below the diagonal begin, but those that are zero in the column
	for k := 0; k < n && k < m; k++ {
		sum := 0.0
		below = below[:0]
		for i := k; i < m; i++ {
			x := a[i*w+k]
			sum += x * x
			if x != 0 && i > k {
				below = append(below, i*w+k)
			}
		}
		if sum == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(sum), a[k*w+k])
		v0 := a[k*w+k] - alpha
		// Householder's vector is (v0, a[k+1..][k]); its square is 2·(α² - α·a_kk).
		beta := 1 / (float64(-alpha * v0))
		top := a[k*w+k+1 : k*w+w]
		d := dots[:len(top)]
		for j, x := range top {
			d[j] = v0 * x
		}
		gather(d, a, below)
		for j := range d {
			d[j] *= beta
			top[j] -= v0 * d[j]
		}
		spread(a, below, d)
		a[k*w+k] = alpha
	}
}

// gather adds to d every row after its first element, times that element: four
// rows at a time, in the order of one at a time.
func gather(d, a []float64, rows []int) {
	for ; len(rows) >= 4; rows = rows[4:] {
		row := func(i int) (v float64, x []float64) { return a[rows[i]], a[rows[i]+1:][:len(d)] }
		v0, x0 := row(0)
		v1, x1 := row(1)
		v2, x2 := row(2)
		v3, x3 := row(3)
		for j, y := range d {
			y += v0 * x0[j]
			y += v1 * x1[j]
			y += v2 * x2[j]
			y += v3 * x3[j]
			d[j] = y
		}
	}
	for _, at := range rows {
		v := a[at]
		for j, x := range a[at+1:][:len(d)] {
			d[j] += v * x
		}
	}
}

// spread takes d times its first element, which becomes zero, from every row.
func spread(a []float64, rows []int, d []float64) {
	for ; len(rows) >= 4; rows = rows[4:] {
		row := func(i int) (v float64, x []float64) {
			v, a[rows[i]] = a[rows[i]], 0
			return v, a[rows[i]+1:][:len(d)]
		}
		v0, x0 := row(0)
		v1, x1 := row(1)
		v2, x2 := row(2)
		v3, x3 := row(3)
		for j, y := range d {
			x0[j] -= v0 * y
			x1[j] -= v1 * y
			x2[j] -= v2 * y
			x3[j] -= v3 * y
		}
	}
	for _, at := range rows {
		v := a[at]
		a[at] = 0
		row := a[at+1:][:len(d)]
		for j, y := range d {
			row[j] -= v * y
		}
	}
}

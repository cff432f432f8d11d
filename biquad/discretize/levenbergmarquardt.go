package discretize

import "math"

// system is the linear least-squares problem of one damped Newton step,
// kept as rows rather than as normal equations: near-cancelling sections make
// columns agree to eight digits and more, of which a product of the rows with
// themselves would leave nothing.
type system struct {
	n, m int
	a    []float64 // m rows of n+1: weighted derivatives and right side
	r    []float64 // n+1 rows: the triangle and its right side
	b    []float64 // work for the damped triangle, 2n rows
	norm []float64 // column norms, for the damping
	x    []float64
	part []float64 // work for compress
}

func newSystem(n, rows int) *system {
	w := n + 1
	return &system{n: n, a: make([]float64, 0, rows*w), r: make([]float64, w*w), b: make([]float64, 2*n*w), norm: make([]float64, n), x: make([]float64, n)}
}

func (s *system) clear() { s.a, s.m = s.a[:0], 0 }

// add appends one row weight·J with right side y.
func (s *system) add(row []float64, weight, y float64) {
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
func (s *system) compress(from, lo, hi int, last bool) {
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
func (s *system) factor() {
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
func (s *system) solve(lambda float64) bool {
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
func (s *system) again(y []float64) {
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
	for k := 0; k < n && k < m; k++ {
		sum := 0.0
		for i := k; i < m; i++ {
			x := a[i*w+k]
			sum += x * x
		}
		if sum == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(sum), a[k*w+k])
		v0 := a[k*w+k] - alpha
		// Householder's vector is (v0, a[k+1..][k]); its square is 2·(α² - α·a_kk).
		beta := 1 / (float64(-alpha * v0))
		d := dots[:w-k-1]
		for j := range d {
			d[j] = v0 * a[k*w+k+1+j]
		}
		for i := k + 1; i < m; i++ {
			v := a[i*w+k]
			if v == 0 {
				continue
			}
			row := a[i*w+k+1 : i*w+w]
			for j, x := range row[:len(d)] {
				d[j] += v * x
			}
		}
		for j := range d {
			d[j] *= beta
			a[k*w+k+1+j] -= v0 * d[j]
		}
		for i := k + 1; i < m; i++ {
			v := a[i*w+k]
			if v == 0 {
				continue
			}
			row := a[i*w+k+1 : i*w+w]
			for j := range row[:len(d)] {
				row[j] -= v * d[j]
			}
			a[i*w+k] = 0
		}
		a[k*w+k] = alpha
	}
}

// model is something under fit, with parameters.
type model interface {
	size() int
	moved(step []float64) model
}

// problem is what a fit reduces: weighted errors of a model, each with its
// derivatives by the parameters.
type problem interface {
	count() int
	// errors fills e with the errors of m and rows, unless nil, with
	// m.size() derivatives each. An infinite error says that the model is not
	// realisable.
	errors(m model, e, rows []float64)
	// load adds the weighted rows to the system.
	load(s *system, e, rows, weight, right []float64)
}

// fitter improves one model of a problem.
type fitter struct {
	of    problem
	m     model
	n     int // parameters
	sys   *system
	rows  []float64 // derivatives, n an error
	e, t  []float64 // errors of the model, and of a trial
	w, y  []float64 // weights and right sides of a step
	safe  func(model) bool
	steps int
	bends bool // whether steps follow the curve of the model
	// effort is what is left to spend on steps, shared by the fits of one
	// problem; nil for no bound.
	effort *effort
}

// effort bounds the work of a problem by counting it, so that no input takes
// forever and the answer does not depend on the machine's speed.
type effort struct{ left float64 }

// spend takes a step's work from what is left; false where nothing is.
func (e *effort) spend(work float64) bool {
	if e == nil {
		return true
	}
	if e.left <= 0 {
		return false
	}
	e.left -= work
	return true
}

// newFitter prepares a fit that only ever moves to models that are safe; nil
// means that all are.
func newFitter(m model, of problem, safe func(model) bool) *fitter {
	n, k := m.size(), of.count()
	f := &fitter{of: of, m: m, n: n, safe: safe, sys: newSystem(n, k), rows: make([]float64, k*n)}
	f.e, f.t, f.w, f.y = make([]float64, k), make([]float64, k), make([]float64, k), make([]float64, k)
	of.errors(m, f.e, f.rows)
	return f
}

// Stopping rules of reduce.
const (
	enoughDB  = 1e-8 // errors that no further step can be heard or measured in
	smallGain = 1e-6 // relative change of the loss, times p, of a finished stage
	maxRaises = 12   // rises of the damping before a stage gives up
)

// reduce lowers Σ|error|ᵖ, p a power of two, by at most so many damped Newton
// steps (K. Levenberg 1944, D. Marquardt 1963; for p > 2 the weights are those
// of iteratively reweighted least squares with Newton's step length 1/(p-1)).
func (f *fitter) reduce(p, steps int) {
	lambda := 1e-3
	for it := 0; it < steps; it++ {
		scale := peak(f.e)
		if !(scale > enoughDB) || math.IsInf(scale, 0) || !f.effort.spend(float64(f.n)*float64(f.n)*float64(len(f.e))) {
			return
		}
		for i, e := range f.e {
			f.w[i], f.y[i] = 0, 0
			if w := evenPower(e/scale, p-2); e != 0 && w > 1e-20 {
				f.w[i], f.y[i] = math.Sqrt(w*float64(p-1)), -e*math.Sqrt(w/float64(p-1))
			}
		}
		f.sys.clear()
		f.of.load(f.sys, f.e, f.rows, f.w, f.y)
		f.sys.factor()
		before := loss(f.e, scale, p)
		for raise, factor := 0, 4.0; ; raise++ {
			if raise == maxRaises {
				return
			}
			if f.sys.solve(lambda) {
				if f.bends {
					f.bend()
				}
				trial := f.m.moved(f.sys.x)
				f.of.errors(trial, f.t, nil)
				if after := loss(f.t, scale, p); after < before && (f.safe == nil || f.safe(trial)) {
					f.m = trial
					f.of.errors(f.m, f.e, f.rows)
					if before-after < smallGain/float64(p)*before && lambda < 1e-2 {
						return
					}
					lambda = math.Max(lambda/8, 1e-26)
					f.steps++
					break
				}
			}
			lambda *= factor // faster and faster (H. B. Nielsen, 1999)
			factor *= 2
		}
	}
}

// bend adds to the step half of what its second derivative asks for, where that
// is small against the step: along a narrow curved valley, as of a pole and a
// zero that nearly cancel, straight steps would have to be short (M. K.
// Transtrum, B. B. Machta, J. P. Sethna, Phys. Rev. E 83, 2011, section VIII).
func (f *fitter) bend() {
	const h = 0.1 // of the step, for the second difference
	n, x := f.n, f.sys.x
	small := make([]float64, n)
	for k := range small {
		small[k] = h * x[k]
	}
	f.of.errors(f.m.moved(small), f.t, nil)
	right := make([]float64, n)
	for i, w := range f.w {
		if w == 0 {
			continue
		}
		row, slope := f.rows[i*n:(i+1)*n], 0.0
		for k, d := range row {
			slope += d * x[k]
		}
		c := -w * w * 2 / h * ((f.t[i]-f.e[i])/h - slope)
		for k, d := range row {
			right[k] += c * d
		}
	}
	f.sys.again(right)
	long, turn := 0.0, 0.0
	for k, d := range f.sys.norm {
		a, b := d*x[k], d*right[k]
		long += a * a
		turn += b * b
	}
	if turn < mostBend*mostBend*long {
		for k := range x {
			x[k] += right[k] / 2
		}
	}
}

// mostBend is the largest second-order part of a step, relative to the first.
const mostBend = 0.375

// loss is Σ|e/scale|ᵖ.
func loss(e []float64, scale float64, p int) float64 {
	sum := 0.0
	for _, x := range e {
		sum += evenPower(x/scale, p)
	}
	return sum
}

// evenPower is |x|ᵖ for an even p ≥ 0, by squaring.
func evenPower(x float64, p int) float64 {
	x *= x
	y := 1.0
	for p /= 2; p > 0; p /= 2 {
		if p&1 == 1 {
			y *= x
		}
		x *= x
	}
	return y
}

// peak is the largest magnitude.
func peak(e []float64) float64 {
	m := 0.0
	for _, x := range e {
		m = math.Max(m, math.Abs(x))
	}
	return m
}

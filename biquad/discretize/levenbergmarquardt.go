package discretize

import (
	"context"

	"math"
)

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
	// within are the columns, of n, in which the derivatives of error i may be other than
	// zero.
	within(i, n int) columns
	// load adds the weighted rows to the system.
	load(s *leastSquares, e, rows, weight, right []float64)
}

// fitter improves one model of a problem.
type fitter struct {
	of    problem
	m     model
	n     int // parameters
	sys   *leastSquares
	rows  []float64 // derivatives, n an error
	e, t  []float64 // errors of the model, and of a trial
	w, y  []float64 // weights and right sides of a step
	safe  func(model) bool
	steps int
	bends bool // whether steps follow the curve of the model
	// effort is what is left to spend on steps, shared by the fits of one
	// problem; nil for no bound.
	effort *effort
	// patience is how many slow steps in a row end a stage; 0 for any number.
	patience int
}

// effort bounds the work of a problem by counting it, so that no input takes
// forever and the answer does not depend on the machine's speed.
// A context that is cancelled leaves none.
type effort struct {
	left float64
	ctx  context.Context
}

// spend takes a step's work from what is left; false where nothing is.
func (e *effort) spend(work float64) bool {
	if e == nil {
		return true
	}
	if e.ctx.Err() != nil {
		e.left = 0
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
	f := &fitter{of: of, m: m, n: n, safe: safe, sys: newLeastSquares(n, k), rows: make([]float64, k*n)}
	f.e, f.t, f.w, f.y = make([]float64, k), make([]float64, k), make([]float64, k), make([]float64, k)
	of.errors(m, f.e, f.rows)
	return f
}

// Stopping rules of reduce.
const (
	enoughDB  = 1e-8 // errors that no further step can be heard or measured in
	smallGain = 1e-6 // relative change of the loss, times p, of a finished stage
	slowGain  = 3e-4 // likewise, of a step along the bottom of a valley
	maxRaises = 12   // rises of the damping before a stage gives up
)

// reduce lowers Σ|error|ᵖ, p a power of two, by at most so many damped Newton
// steps (K. Levenberg 1944, D. Marquardt 1963; for p > 2 the weights are those
// of iteratively reweighted least squares with Newton's step length 1/(p-1)).
func (f *fitter) reduce(p, steps int) {
	lambda, slow := 1e-3, 0
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
					if f.patience > 0 {
						if before-after > slowGain/float64(p)*before {
							slow = 0
						} else if slow++; slow == f.patience {
							return
						}
					}
					lambda = max(lambda/8, 1e-26)
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
		row, at, slope := f.rows[i*n:(i+1)*n], f.of.within(i, n), 0.0
		y, sum := x[at.lo:at.hi], right[at.lo:at.hi]
		for k, d := range row[at.lo:at.hi] {
			slope += d * y[k]
		}
		if at.last {
			slope += row[n-1] * x[n-1]
		}
		c := -w * w * 2 / h * ((f.t[i]-f.e[i])/h - slope)
		for k, d := range row[at.lo:at.hi] {
			sum[k] += c * d
		}
		if at.last {
			right[n-1] += c * row[n-1]
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
		m = max(m, math.Abs(x))
	}
	return m
}

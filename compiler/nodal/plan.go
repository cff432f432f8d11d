package nodal

import "math"

// plan is an order of elimination, to be replayed. Slots hold the matrix
// elements, the original ones first, row by row, and then the fill.
type plan struct {
	slots   int
	used    []original // of the first slots
	usedEnd []int32    // of each row of the equations, where it ends in used
	pivots  []pivot    // in their order
	first   int        // of the pivots that were kept for last
}

// original says that an element is an entry of the equations.
type original struct{ entry, col int32 }

// pivot is one step of the elimination.
type pivot struct {
	slot, row, col int32
	lower          []spot  // the elements below it, at their rows
	upper          []spot  // the elements to its right, at their columns
	target         []int32 // the slots that each pair of lower and upper changes, row by row
}

// spot is an element and the row or column that it is in.
type spot struct{ slot, at int32 }

// element is one element of the equations at a frequency, for the residual.
type element struct {
	value complex128
	size  float64 // of value
	col   int32
}

// factor replays the elimination at w (rad/s).
func (s *Solver) factor(p *plan, w float64) {
	s.load(p, w)
	s.eliminate(p, 0, len(p.pivots))
}

// load puts the equations at w (rad/s) into their slots.
func (s *Solver) load(p *plan, w float64) {
	v := s.factors[:p.slots]
	elements := s.elements[:len(p.used)]
	for k, u := range p.used {
		e := &s.entries[u.entry]
		a := complex(e.g, w*e.c)
		v[k], elements[k] = a, element{a, size(a), u.col}
	}
	clear(v[len(elements):])
}

// eliminate replays the pivots of a range.
func (s *Solver) eliminate(p *plan, from, to int) {
	v := s.factors
	for k := from; k < to; k++ {
		q := &p.pivots[k]
		inv := reciprocal(v[q.slot])
		s.inverse[k] = inv
		target := q.target
		for _, low := range q.lower {
			l := v[low.slot] * inv
			v[low.slot] = l
			for i, up := range q.upper {
				v[target[i]] -= l * v[up.slot]
			}
			target = target[len(q.upper):]
		}
	}
}

// solve puts the solution for s.rhs into s.x and returns its residual.
func (s *Solver) solve(p *plan) float64 {
	copy(s.work, s.rhs)
	s.substitute(p, s.work, s.x)
	return s.refined(p)
}

// refined is the residual of the solution in s.x, after one step of refinement where the
// residual is not good. One that is accepted as it was before the step is not worked out
// again, as the step only makes it less.
func (s *Solver) refined(p *plan) float64 {
	r := s.residual(p)
	if r > goodResidual {
		// s.work now holds the residual vector.
		s.substitute(p, s.work, s.step)
		for i, d := range s.step {
			s.x[i] += d
		}
		if !(r <= maxResidual) {
			r = s.residual(p)
		}
	}
	return r
}

// substitute solves for one right-hand side, which it destroys.
func (s *Solver) substitute(p *plan, b, x []complex128) {
	s.forward(p, b, 0, len(p.pivots))
	s.backward(p, b, x, 0)
}

// forward takes the pivots' rows of a range out of a right-hand side.
func (s *Solver) forward(p *plan, b []complex128, from, to int) {
	v := s.factors
	for k := from; k < to; k++ {
		q := &p.pivots[k]
		y := b[q.row]
		if y == 0 {
			continue
		}
		for _, low := range q.lower {
			b[low.at] -= v[low.slot] * y
		}
	}
}

// backward finds the unknowns of the pivots from one on, the last first.
func (s *Solver) backward(p *plan, b, x []complex128, from int) {
	v := s.factors
	for k := len(p.pivots) - 1; k >= from; k-- {
		q := &p.pivots[k]
		y := b[q.row]
		for _, up := range q.upper {
			y -= v[up.slot] * x[up.at]
		}
		x[q.col] = y * s.inverse[k]
	}
}

// transposed solves the adjoint equations Aᵀ·x = b, and destroys b.
func (s *Solver) transposed(p *plan, b, x []complex128) {
	v := s.factors
	for k := range p.pivots {
		q := &p.pivots[k]
		y := b[q.col] * s.inverse[k]
		b[q.col] = y
		if y == 0 {
			continue
		}
		for _, up := range q.upper {
			b[up.at] -= v[up.slot] * y
		}
	}
	for k := len(p.pivots) - 1; k >= 0; k-- {
		q := &p.pivots[k]
		y := b[q.col]
		for _, low := range q.lower {
			y -= v[low.slot] * x[low.at]
		}
		x[q.row] = y
	}
}

// residual puts b - A·x into s.work and returns the largest element in
// relation to the terms that it is the sum of. A solution that is not finite
// has an infinite residual.
func (s *Solver) residual(p *plan) float64 {
	x, sizes := s.x, s.sizes[:len(s.x)]
	for j, v := range x {
		sizes[j] = size(v)
	}
	worst, from := 0.0, int32(0)
	for i, end := range p.usedEnd {
		r := s.rhs[i]
		terms := size(r)
		row := s.elements[from:end]
		for k := range row {
			e := &row[k]
			r -= e.value * x[e.col]
			terms += e.size * sizes[e.col]
		}
		s.work[i], from = r, end
		if !(terms <= math.MaxFloat64) {
			return math.Inf(1)
		}
		// Divided is only where the row is worse than those before it.
		if m := size(r); m > worst*terms {
			worst = m / terms
		}
	}
	return worst
}

// size is a cheap norm of a complex number, at most √2 too large.
func size(v complex128) float64 { return math.Abs(real(v)) + math.Abs(imag(v)) }

// reciprocal is 1/v. Go's own division takes more care of infinities, and
// several times as long.
func reciprocal(v complex128) complex128 {
	d := real(v)*real(v) + imag(v)*imag(v)
	return complex(real(v)/d, -imag(v)/d)
}

package nodal

import "math"

// plan is an order of elimination compiled to a flat list. Slots hold the
// matrix elements, the original entries first and then the fill; unknowns
// keep their numbers, row[k] and col[k] are those of pivot k.
type plan struct {
	slots    int
	used     []int32 // entry of each of the first slots
	row, col []int32
	pivot    []int32
	// For pivot k, lower[lo[k]:lo[k+1]] are the slots below it and lowerRow
	// their rows; upper[up[k]:up[k+1]] the slots to its right and upperCol their
	// columns; target[tg[k]:] the slots that each pair changes, row by row.
	lo, up, tg      []int32
	lower, lowerRow []int32
	upper, upperCol []int32
	target          []int32
}

// factor replays the elimination at w (rad/s).
func (s *Solver) factor(p *plan, w float64) {
	v := s.factors[:p.slots]
	for k, i := range p.used {
		e := &s.entries[i]
		v[k] = complex(e.g, w*e.c)
	}
	clear(v[len(p.used):])
	for k, at := range p.pivot {
		inv := reciprocal(v[at])
		s.inverse[k] = inv
		upper := p.upper[p.up[k]:p.up[k+1]]
		target := p.target[p.tg[k]:p.tg[k+1]]
		for _, lo := range p.lower[p.lo[k]:p.lo[k+1]] {
			l := v[lo] * inv
			v[lo] = l
			row := target[:len(upper)]
			for i, up := range upper {
				v[row[i]] -= l * v[up]
			}
			target = target[len(upper):]
		}
	}
}

// solve puts the solution for s.rhs into s.x and returns its residual.
func (s *Solver) solve(p *plan, w float64) float64 {
	copy(s.work, s.rhs)
	s.substitute(p, s.work, s.x)
	r := s.residual(p, w)
	if r > goodResidual {
		// s.work now holds the residual vector.
		s.substitute(p, s.work, s.step)
		for i, d := range s.step {
			s.x[i] += d
		}
		r = s.residual(p, w)
	}
	return r
}

// substitute solves for one right-hand side, which it destroys.
func (s *Solver) substitute(p *plan, b, x []complex128) {
	v := s.factors
	for k, row := range p.row {
		y := b[row]
		if y == 0 {
			continue
		}
		rows := p.lowerRow[p.lo[k]:p.lo[k+1]]
		for i, lo := range p.lower[p.lo[k]:p.lo[k+1]] {
			b[rows[i]] -= v[lo] * y
		}
	}
	for k := len(p.row) - 1; k >= 0; k-- {
		y := b[p.row[k]]
		cols := p.upperCol[p.up[k]:p.up[k+1]]
		for i, up := range p.upper[p.up[k]:p.up[k+1]] {
			y -= v[up] * x[cols[i]]
		}
		x[p.col[k]] = y * s.inverse[k]
	}
}

// transposed solves the adjoint equations Aᵀ·x = b, and destroys b.
func (s *Solver) transposed(p *plan, b, x []complex128) {
	v := s.factors
	for k, col := range p.col {
		y := b[col] * s.inverse[k]
		b[col] = y
		if y == 0 {
			continue
		}
		cols := p.upperCol[p.up[k]:p.up[k+1]]
		for i, up := range p.upper[p.up[k]:p.up[k+1]] {
			b[cols[i]] -= v[up] * y
		}
	}
	for k := len(p.row) - 1; k >= 0; k-- {
		y := b[p.col[k]]
		rows := p.lowerRow[p.lo[k]:p.lo[k+1]]
		for i, lo := range p.lower[p.lo[k]:p.lo[k+1]] {
			y -= v[lo] * x[rows[i]]
		}
		x[p.row[k]] = y
	}
}

// residual puts b - A·x into s.work and returns the largest element in
// relation to the terms that it is the sum of. A solution that is not finite
// has an infinite residual.
func (s *Solver) residual(p *plan, w float64) float64 {
	for i, b := range s.rhs {
		s.work[i] = b
		s.terms[i] = size(b)
	}
	for _, i := range p.used {
		e := &s.entries[i]
		x := s.x[e.col]
		// (g + jw·c)·x, written out: most entries are real.
		re, im := e.g*real(x), e.g*imag(x)
		weight := math.Abs(e.g)
		if e.c != 0 {
			c := w * e.c
			re -= c * imag(x)
			im += c * real(x)
			weight += math.Abs(c)
		}
		s.work[e.row] -= complex(re, im)
		s.terms[e.row] += weight * size(x)
	}
	worst := 0.0
	for i, r := range s.work {
		m := size(r)
		if m == 0 {
			continue
		}
		q := m / s.terms[i]
		if math.IsNaN(q) {
			return math.Inf(1)
		}
		worst = math.Max(worst, q)
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

package nodal

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler/netlist"
)

const (
	// threshold: a pivot may be this much smaller than the largest element of
	// its column, in exchange for less fill (Duff, Erisman, Reid, Direct
	// Methods for Sparse Matrices, section 5.2, use 0.1 to 0.01).
	threshold = 0.01
	// vanished: an element of the remaining equations that is smaller than this
	// in relation to its row's original elements is rounding.
	vanished = 1e-13
	// concerned: nodes whose voltage changes by at least this share of the most
	// affected one are named as floating.
	concerned = 1e-3
)

// Singular says that a circuit has no unique solution.
type Singular struct {
	Hz    float64  // 0 for DC
	Nodes []string // whose voltage nothing fixes
	Parts []string // sources and op-amps whose current nothing fixes, where no node floats
}

func (e *Singular) Error() string {
	at := fmt.Sprintf("at %.6g Hz", e.Hz)
	if e.Hz == 0 {
		at = "at DC"
	}
	switch len(e.Nodes) {
	case 0:
		return fmt.Sprintf("nodal: nothing fixes the current through %s %s: they force the same voltage", strings.Join(e.Parts, ", "), at)
	case 1:
		return fmt.Sprintf("nodal: node %s floats: nothing fixes its voltage %s", e.Nodes[0], at)
	}
	return fmt.Sprintf("nodal: nodes %s float: nothing fixes their voltages %s", strings.Join(e.Nodes, ", "), at)
}

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

// newPlan chooses pivots by Markowitz's product (Management Science 3, 1957)
// among the elements that pass the threshold at w (rad/s). At w = 0 the
// capacitors are left out of the pattern.
func newPlan(s *Solver, w float64) (*plan, error) {
	n := s.size
	val := make([]complex128, n*n)
	slot := make([]int32, n*n)
	for i := range slot {
		slot[i] = -1
	}
	p := &plan{}
	scale := make([]float64, n)
	for i, e := range s.entries {
		if e.g == 0 && (w == 0 || e.c == 0) {
			continue
		}
		v := complex(e.g, w*e.c)
		k := int(e.row)*n + int(e.col)
		val[k] = v
		slot[k] = int32(p.slots)
		p.used = append(p.used, int32(i))
		p.slots++
		scale[e.row] = math.Max(scale[e.row], size(v))
	}
	rowDone, colDone := make([]bool, n), make([]bool, n)
	rowCount, colCount, colMax := make([]int, n), make([]int, n), make([]float64, n)
	for k := range n {
		// Counts and column maxima of what remains.
		for i := range n {
			rowCount[i], colCount[i], colMax[i] = 0, 0, 0
		}
		for i := range n {
			if rowDone[i] {
				continue
			}
			for j := range n {
				if colDone[j] || slot[i*n+j] < 0 {
					continue
				}
				rowCount[i]++
				colCount[j]++
				if a := size(val[i*n+j]); a > vanished*scale[i] {
					colMax[j] = math.Max(colMax[j], a)
				}
			}
		}
		bestRow, bestCol, best, bestSize := -1, -1, math.MaxInt, 0.0
		for i := range n {
			if rowDone[i] {
				continue
			}
			for j := range n {
				if colDone[j] || slot[i*n+j] < 0 {
					continue
				}
				a := size(val[i*n+j])
				if !(a > vanished*scale[i]) || a < threshold*colMax[j] {
					continue
				}
				m := (rowCount[i] - 1) * (colCount[j] - 1)
				if m < best || m == best && a > 2*bestSize {
					bestRow, bestCol, best, bestSize = i, j, m, a
				}
			}
		}
		if bestRow < 0 {
			return nil, s.floating(p, val, slot, colDone, w)
		}
		p.eliminate(k, bestRow, bestCol, n, val, slot, rowDone, colDone)
	}
	p.lo, p.up, p.tg = append(p.lo, int32(len(p.lower))), append(p.up, int32(len(p.upper))), append(p.tg, int32(len(p.target)))
	return p, nil
}

// eliminate makes (i, j) the pivot k, numerically and in the list.
func (p *plan) eliminate(k, i, j, n int, val []complex128, slot []int32, rowDone, colDone []bool) {
	rowDone[i], colDone[j] = true, true
	p.row, p.col, p.pivot = append(p.row, int32(i)), append(p.col, int32(j)), append(p.pivot, slot[i*n+j])
	p.lo, p.up, p.tg = append(p.lo, int32(len(p.lower))), append(p.up, int32(len(p.upper))), append(p.tg, int32(len(p.target)))
	for c := range n {
		if !colDone[c] && slot[i*n+c] >= 0 {
			p.upper, p.upperCol = append(p.upper, slot[i*n+c]), append(p.upperCol, int32(c))
		}
	}
	inv := reciprocal(val[i*n+j])
	for r := range n {
		if rowDone[r] || slot[r*n+j] < 0 {
			continue
		}
		p.lower, p.lowerRow = append(p.lower, slot[r*n+j]), append(p.lowerRow, int32(r))
		l := val[r*n+j] * inv
		val[r*n+j] = l
		for _, c := range p.upperCol[p.up[k]:] {
			t := r*n + int(c)
			if slot[t] < 0 {
				slot[t] = int32(p.slots)
				p.slots++
			}
			val[t] -= l * val[i*n+int(c)]
			p.target = append(p.target, slot[t])
		}
	}
}

// floating finds what the equations leave free: with the first column that
// found no pivot set to one and the others to zero, the pivots' unknowns
// follow by substitution.
func (s *Solver) floating(p *plan, val []complex128, slot []int32, colDone []bool, w float64) error {
	n := s.size
	null := make([]complex128, n)
	for j := range n {
		if !colDone[j] {
			null[j] = 1
			break
		}
	}
	for k := len(p.row) - 1; k >= 0; k-- {
		i, j := int(p.row[k]), int(p.col[k])
		var sum complex128
		for _, c := range p.upperCol[p.up[k]:upperEnd(p, k)] {
			sum += val[i*n+int(c)] * null[c]
		}
		null[j] = -sum * reciprocal(val[i*n+j])
	}
	largest, node := 0.0, 0.0
	for j, v := range null {
		largest = math.Max(largest, size(v))
		if j < s.nodes {
			node = math.Max(node, size(v))
		}
	}
	e := &Singular{Hz: w / (2 * math.Pi)}
	for j := range s.nodes {
		if node > vanished*largest && size(null[j]) >= concerned*node {
			e.Nodes = append(e.Nodes, s.circuit.Name(netlist.Node(j+1)))
		}
	}
	if len(e.Nodes) == 0 {
		for i, k := range s.branch {
			if k >= 0 && size(null[k]) >= concerned*largest {
				e.Parts = append(e.Parts, s.parts[i].Ref)
			}
		}
	}
	return e
}

func upperEnd(p *plan, k int) int32 {
	if k+1 < len(p.up) {
		return p.up[k+1]
	}
	return int32(len(p.upper))
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

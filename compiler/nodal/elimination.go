package nodal

import (
	"fmt"
	"math"
	"slices"
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

// newPlan finds an order of elimination at w (rad/s). At w = 0 the capacitors are
// left out of the pattern.
func newPlan(s *Solver, w float64) (*plan, error) { return newPlanKeeping(s, w, nil) }

// newPlanKeeping is newPlan with some unknowns and their rows, nil for none, for last.
func newPlanKeeping(s *Solver, w float64, kept []bool) (*plan, error) {
	e := newElimination(s, w)
	e.kept = kept
	for range s.size {
		e.count()
		row, col := e.best()
		if row < 0 && e.kept != nil { // only those that are kept are left
			e.kept, e.first = nil, len(e.pivots)
			e.count()
			row, col = e.best()
		}
		if row < 0 {
			return nil, e.floating(w)
		}
		e.eliminate(row, col)
	}
	p := e.plan // without the matrix
	return &p, nil
}

// elimination is the search for an order, on a full matrix of numbers.
type elimination struct {
	plan
	solver     *Solver
	n          int
	val        []complex128 // row by row
	slot       []int32      // of each element, -1 for none
	scale      []float64    // the largest original element of each row
	rows, cols []int        // that remain, ascending
	kept       []bool       // rows and columns that are no pivots yet; nil for none
	// Of what remains: elements in each row and column, and the largest of each
	// column.
	rowCount, colCount []int
	colMax             []float64
}

func newElimination(s *Solver, w float64) *elimination {
	n := s.size
	e := &elimination{
		solver: s, n: n, val: make([]complex128, n*n), slot: make([]int32, n*n), scale: make([]float64, n),
		rows: make([]int, n), cols: make([]int, n),
		rowCount: make([]int, n), colCount: make([]int, n), colMax: make([]float64, n),
	}
	for i := range e.slot {
		e.slot[i] = -1
	}
	e.usedEnd = make([]int32, n)
	for i := range n {
		e.rows[i], e.cols[i] = i, i
	}
	for _, i := range s.byRow {
		x := s.entries[i]
		if x.g == 0 && (w == 0 || x.c == 0) {
			continue
		}
		v := complex(x.g, w*x.c)
		k := int(x.row)*n + int(x.col)
		e.val[k], e.slot[k] = v, int32(e.slots)
		e.used = append(e.used, original{i, x.col})
		e.slots++
		e.usedEnd[x.row] = int32(e.slots)
		e.scale[x.row] = math.Max(e.scale[x.row], size(v))
	}
	for i := 1; i < n; i++ {
		e.usedEnd[i] = max(e.usedEnd[i], e.usedEnd[i-1]) // of a row without elements
	}
	return e
}

// remaining calls f with every element of what remains and its size.
func (e *elimination) remaining(f func(row, col int, size float64)) {
	for _, i := range e.rows {
		for _, j := range e.cols {
			if k := i*e.n + j; e.slot[k] >= 0 {
				f(i, j, size(e.val[k]))
			}
		}
	}
}

// count counts and measures what remains.
func (e *elimination) count() {
	clear(e.rowCount)
	clear(e.colCount)
	clear(e.colMax)
	e.remaining(func(i, j int, size float64) {
		e.rowCount[i]++
		e.colCount[j]++
		if e.keeps(i, j) {
			return
		}
		if size > vanished*e.scale[i] {
			e.colMax[j] = math.Max(e.colMax[j], size)
		}
	})
}

// best is the next pivot by Markowitz's product (Management Science 3, 1957)
// among the elements that pass the threshold; a negative row where there is none.
func (e *elimination) best() (row, col int) {
	row, col = -1, -1
	least, largest := math.MaxInt, 0.0
	e.remaining(func(i, j int, size float64) {
		if e.keeps(i, j) || !(size > vanished*e.scale[i]) || size < threshold*e.colMax[j] {
			return
		}
		m := (e.rowCount[i] - 1) * (e.colCount[j] - 1)
		if m < least || m == least && size > 2*largest {
			row, col, least, largest = i, j, m, size
		}
	})
	return row, col
}

// keeps tells that an element is no pivot yet.
func (e *elimination) keeps(row, col int) bool { return e.kept != nil && (e.kept[row] || e.kept[col]) }

// eliminate makes (i, j) the next pivot, numerically and in the list.
func (e *elimination) eliminate(i, j int) {
	n := e.n
	e.rows, e.cols = without(e.rows, i), without(e.cols, j)
	p := pivot{slot: e.slot[i*n+j], row: int32(i), col: int32(j)}
	for _, c := range e.cols {
		if slot := e.slot[i*n+c]; slot >= 0 {
			p.upper = append(p.upper, spot{slot, int32(c)})
		}
	}
	inv := reciprocal(e.val[i*n+j])
	for _, r := range e.rows {
		slot := e.slot[r*n+j]
		if slot < 0 {
			continue
		}
		p.lower = append(p.lower, spot{slot, int32(r)})
		l := e.val[r*n+j] * inv
		e.val[r*n+j] = l
		for _, up := range p.upper {
			t := r*n + int(up.at)
			if e.slot[t] < 0 {
				e.slot[t] = int32(e.slots)
				e.slots++
			}
			e.val[t] -= l * e.val[i*n+int(up.at)]
			p.target = append(p.target, e.slot[t])
		}
	}
	e.pivots = append(e.pivots, p)
}

// without is a list without one of its elements, in place.
func without(list []int, x int) []int {
	at := slices.Index(list, x)
	return slices.Delete(list, at, at+1)
}

// floating finds what the equations leave free: with the first column that
// found no pivot set to one and the others to zero, the pivots' unknowns
// follow by substitution.
func (e *elimination) floating(w float64) error {
	null := make([]complex128, e.n)
	null[e.cols[0]] = 1
	for k := len(e.pivots) - 1; k >= 0; k-- {
		i, j := int(e.pivots[k].row), int(e.pivots[k].col)
		var sum complex128
		for _, up := range e.pivots[k].upper {
			sum += e.val[i*e.n+int(up.at)] * null[up.at]
		}
		null[j] = -sum * reciprocal(e.val[i*e.n+j])
	}
	s := e.solver
	largest, node := 0.0, 0.0
	for j, v := range null {
		largest = math.Max(largest, size(v))
		if j < s.nodes {
			node = math.Max(node, size(v))
		}
	}
	fault := &Singular{Hz: w / (2 * math.Pi)}
	for j := range s.nodes {
		if node > vanished*largest && size(null[j]) >= concerned*node {
			fault.Nodes = append(fault.Nodes, s.circuit.Name(netlist.Node(j+1)))
		}
	}
	if len(fault.Nodes) == 0 {
		for i, k := range s.branch {
			if k >= 0 && size(null[k]) >= concerned*largest {
				fault.Parts = append(fault.Parts, s.parts[i].Ref)
			}
		}
	}
	return fault
}

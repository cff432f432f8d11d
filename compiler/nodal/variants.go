package nodal

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/netlist"
)

// Variants solves a circuit at one frequency after the other for many values of a few
// resistors, such as contacts: everything else is eliminated once a frequency, and each
// variant costs what is left. It is not safe for concurrent use; Clone gives each worker
// its own.
type Variants struct {
	solver *Solver // whose entries are without the parts that vary
	parts  []int
	outs   []netlist.Node
	left   []leftSlot
	stamps []leftStamp
	rows   []int32 // of the equations that are left
	values []complex128
}

// leftSlot is an element of the equations that are left.
type leftSlot struct{ slot, row, col int32 }

// leftStamp says that a varying part's admittance adds to an element.
type leftStamp struct {
	slot int32 // the original elements are the first slots
	left int   // the index of that slot among those that are left
	part int   // among the varying ones
	sign float64
}

// Left are the equations that are left at a frequency, before the varying parts are added.
type Left struct {
	elements, right []complex128
}

// NewVariants prepares a solver's circuit for other values of some resistors, where the
// voltages of outs are wanted. The order of elimination is found with the values that
// the solver has.
func NewVariants(of *Solver, parts []int, outs []netlist.Node) (*Variants, error) {
	s := of.Clone()
	v := &Variants{solver: s, parts: parts, outs: outs}
	kept := make([]bool, s.size)
	keep := func(n netlist.Node) {
		if n != netlist.Ground {
			kept[unknown(n)] = true
		}
	}
	varies := map[int]int{}
	for k, i := range parts {
		if s.parts[i].Kind != netlist.Resistor {
			return nil, fmt.Errorf("nodal: %s is no resistor", s.parts[i].Ref)
		}
		varies[i] = k
		keep(s.parts[i].Nodes[0])
		keep(s.parts[i].Nodes[1])
	}
	for _, n := range outs {
		keep(n)
	}
	p, err := newPlanKeeping(s, 2*math.Pi*s.lowHz, kept)
	if err != nil {
		return nil, err
	}
	s.ac = p
	s.allocate()
	v.separate(varies)
	v.gather()
	return v, nil
}

// separate takes the varying parts out of the entries.
func (v *Variants) separate(varies map[int]int) {
	s := v.solver
	slot := map[int]int32{}
	for k, u := range s.ac.used {
		slot[int(u.entry)] = int32(k)
	}
	s.byEntry = slices.Clone(s.byEntry)
	for i, all := range s.byEntry {
		var stay []stamp
		for _, st := range all {
			if k, ok := varies[st.part]; ok {
				v.stamps = append(v.stamps, leftStamp{slot: slot[i], part: k, sign: st.sign})
			} else {
				stay = append(stay, st)
			}
		}
		if len(stay) == len(all) {
			continue
		}
		s.byEntry[i] = stay
		s.entries[i].g, s.entries[i].c = 0, 0
		s.sum(i)
	}
}

// gather lists what is left after the pivots that are not kept.
func (v *Variants) gather() {
	for _, q := range v.solver.ac.pivots[v.solver.ac.first:] {
		v.rows = append(v.rows, q.row)
		v.left = append(v.left, leftSlot{q.slot, q.row, q.col})
		for _, up := range q.upper {
			v.left = append(v.left, leftSlot{up.slot, q.row, up.at})
		}
		for _, low := range q.lower {
			v.left = append(v.left, leftSlot{low.slot, low.at, q.col})
		}
	}
	slices.SortFunc(v.left, func(a, b leftSlot) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) })
	v.values = make([]complex128, len(v.left))
	for i := range v.stamps {
		x := &v.stamps[i]
		x.left = slices.IndexFunc(v.left, func(l leftSlot) bool { return l.slot == x.slot })
	}
}

// Clone is for another goroutine.
func (v *Variants) Clone() *Variants {
	c := *v
	c.solver = v.solver.Clone()
	c.values = make([]complex128, len(v.left))
	return &c
}

// Reduce finds the equations that are left at hz (> 0), and solves all of the circuit with
// the values ohms (> 0) of the varying parts. It fails where the solution's residual is
// not small enough.
func (v *Variants) Reduce(dst *Left, hz float64, ohms []float64) error {
	s, p := v.solver, v.solver.ac
	for i, d := range s.drive {
		s.rhs[i] = complex(d, 0)
	}
	s.load(p, 2*math.Pi*hz)
	s.eliminate(p, 0, p.first)
	copy(s.work, s.rhs)
	s.forward(p, s.work, 0, p.first)
	dst.elements, dst.right = dst.elements[:0], dst.right[:0]
	for _, l := range v.left {
		dst.elements = append(dst.elements, s.factors[l.slot])
	}
	for _, row := range v.rows {
		dst.right = append(dst.right, s.work[row])
	}
	for _, x := range v.stamps {
		y := complex(x.sign*(unitOhm/ohms[x.part]), 0)
		s.factors[x.slot] += y
		e := &s.elements[x.slot]
		e.value += y
		e.size = size(e.value)
	}
	s.eliminate(p, p.first, len(p.pivots))
	s.forward(p, s.work, p.first, len(p.pivots))
	s.backward(p, s.work, s.x, 0)
	return v.close(s.refined(p), hz)
}

// Solve solves what is left with the values ohms (> 0) of the varying parts. It fails
// where the residual of the equations that are left is not small enough.
func (v *Variants) Solve(from *Left, hz float64, ohms []float64) error {
	s, p := v.solver, v.solver.ac
	copy(v.values, from.elements)
	for _, x := range v.stamps {
		v.values[x.left] += complex(x.sign*(unitOhm/ohms[x.part]), 0)
	}
	for i, l := range v.left {
		s.factors[l.slot] = v.values[i]
	}
	for i, row := range v.rows {
		s.work[row], s.rhs[row] = from.right[i], from.right[i]
	}
	s.eliminate(p, p.first, len(p.pivots))
	s.forward(p, s.work, p.first, len(p.pivots))
	s.backward(p, s.work, s.x, p.first)
	return v.close(v.residual(), hz)
}

// residual is that of the equations that are left, as Solver.residual is of all.
func (v *Variants) residual() float64 {
	s, worst := v.solver, 0.0
	for i := 0; i < len(v.left); {
		row := v.left[i].row
		r := s.rhs[row]
		terms := size(r)
		for ; i < len(v.left) && v.left[i].row == row; i++ {
			x := s.x[v.left[i].col]
			r -= v.values[i] * x
			terms += size(v.values[i]) * size(x)
		}
		if !(terms <= math.MaxFloat64) {
			return math.Inf(1)
		}
		if m := size(r); m > worst*terms {
			worst = m / terms
		}
	}
	return worst
}

func (v *Variants) close(residual, hz float64) error {
	if !(residual <= maxResidual) {
		return fmt.Errorf("nodal: the equations are too ill-conditioned at %g Hz (residual %.1g)", hz, residual)
	}
	return nil
}

// Voltage is a wanted node's voltage (V) in the latest solution.
func (v *Variants) Voltage(out int) complex128 {
	if n := v.outs[out]; n != netlist.Ground {
		return v.solver.x[unknown(n)]
	}
	return 0
}

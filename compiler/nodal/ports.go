package nodal

import (
	"bandwright/compiler/netlist"
)

// Ports is a solution as some resistors and capacitors see it: all that there is to
// know of what happens to a voltage when their admittances change, however much.
type Ports struct {
	Out    complex128   // voltage of the node looked at (V)
	Across []complex128 // voltage across each part (V)
	Reach  []complex128 // what 1 A into one end of each part and out of the other adds to Out (V)
	// Z is the voltage that 1 A into and out of part q puts across part p (V), at p·n+q
	// for n parts.
	Z []complex128
}

// Ports puts into dst how resistors and capacitors, by index, act on a node's voltage at
// the frequency of the present solution. dst's slices are used again. It fails where
// there is no solution.
func (s *Solver) Ports(dst *Ports, out netlist.Node, parts []int) error {
	if s.hz < 0 {
		return errUnsolved
	}
	s.ports(s.ac, dst, out, parts)
	return nil
}

// PortsDC is Ports of the solution of DC, in which capacitors are open, which it finds first. It fails as DC does.
func (s *Solver) PortsDC(dst *Ports, out netlist.Node, parts []int) error {
	if err := s.DC(); err != nil {
		return err
	}
	s.ports(s.dc, dst, out, parts)
	return nil
}

// ports is Ports of the present solution, which is a plan's.
func (s *Solver) ports(plan *plan, dst *Ports, out netlist.Node, parts []int) {
	n := len(parts)
	if len(dst.Across) != n {
		*dst = Ports{Across: make([]complex128, n), Reach: make([]complex128, n), Z: make([]complex128, n*n)}
	}
	dst.Out = s.Voltage(out)
	for q, i := range parts {
		from, to := s.parts[i].Nodes[0], s.parts[i].Nodes[1]
		dst.Across[q] = s.across(s.x, from, to)
		clear(s.work)
		if from != netlist.Ground {
			s.work[unknown(from)] += unitOhm
		}
		if to != netlist.Ground {
			s.work[unknown(to)] -= unitOhm
		}
		s.substitute(plan, s.work, s.step)
		if dst.Reach[q] = 0; s.knows(out) {
			dst.Reach[q] = s.step[unknown(out)]
		}
		for p, k := range parts {
			dst.Z[p*n+q] = s.across(s.step, s.parts[k].Nodes[0], s.parts[k].Nodes[1])
		}
	}
}

// Change makes the admittance of part u greater by y (S, complex), whatever much that
// is, and brings all else up to date: one more branch at a port takes its share of the
// current (W. Hager, SIAM Review 31, 1989: an update of rank one).
func (t *Ports) Change(u int, y complex128) {
	n := len(t.Across)
	share := y / (1 + y*t.Z[u*n+u])
	current := share * t.Across[u]
	t.Out -= t.Reach[u] * current
	reach := t.Reach[u] * share
	row := t.Z[u*n : u*n+n]
	for p := range n {
		t.Reach[p] -= reach * row[p]
	}
	for p := range n {
		z := t.Z[p*n+u]
		t.Across[p] -= z * current
		if p != u {
			for q := range n {
				t.Z[p*n+q] -= z * share * row[q]
			}
		}
	}
	own := 1 - share*row[u]
	for q := range row {
		row[q] *= own
	}
}

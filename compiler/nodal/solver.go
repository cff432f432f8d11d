// Package nodal analyses circuits of resistors, capacitors and op-amps: what
// comes in is a netlist, what goes out are node voltages at a frequency, noise
// at a node, offsets, sensitivities and poles.
//
// The equations are those of modified nodal analysis (Ho, Ruehli, Brennan,
// IEEE Trans. Circuits Syst. 22, 1975): Kirchhoff's current law at every node
// and one equation for every source and op-amp. An op-amp's is
//
//	(V(out) - Rout·I)/A(s) - V(+) + V(-) = input error voltage,
//
// with I the current into its output; an ideal one has 1/A = 0, a nullor. The
// order of elimination is found once, at the lowest frequency of interest, and
// compiled to a flat list that is replayed at every frequency and for every
// change of part values. The one invariant: every solution's residual has been
// checked.
//
// Read first: New, Solver.At, Solver.Noise.
package nodal

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/netlist"
)

const (
	// unitOhm scales currents, so that conductances are near one, as the
	// coefficients of the other equations are.
	unitOhm = 1e4
	// maxResidual is the largest accepted componentwise relative residual
	// (Oettli, Prager, Numer. Math. 6, 1964) of a solution. Rounding alone
	// leaves some 1e-14; where replaying the order leaves more than
	// goodResidual, one step of refinement is taken, and where that does not
	// help the order is found anew.
	maxResidual  = 1e-11
	goodResidual = 1e-13
)

// entry is one element g + jω·c of the equations, at a place of the plan.
type entry struct {
	row, col int32
	g, c     float64
}

// stamp says that a branch of a part adds to an entry, with a sign.
type stamp struct {
	part, entry int
	sign        float64
	branch      int
}

// Solver holds a circuit's equations. It is not safe for concurrent use; Clone
// gives each worker its own.
type Solver struct {
	circuit *netlist.Circuit
	parts   []netlist.Part // own copy: Set changes values
	nodes   int            // without the ground, as they were when New was called
	size    int
	branch  []int32 // part → row and column of its current, -1 without
	entries []entry
	byRow   []int32   // entries, row by row
	byPart  [][]stamp // of each part
	byEntry [][]stamp // of each entry
	drive   []float64 // right-hand side of the sources

	ac, dc *plan // dc is made when it is first asked for
	lowHz  float64

	hz       float64 // of the solution; negative before the first
	factors  []complex128
	inverse  []complex128 // of the pivots
	x, work  []complex128
	step     []complex128 // of refinement
	elements []element    // of the equations at a frequency, in the plan's order
	sizes    []float64    // of x, for the residual
	rhs      []complex128
	adjoint  []complex128
}

// New prepares a circuit for analysis from lowestHz (> 0) upwards. It fails
// where the netlist is faulty, and with a *Singular that names nodes where no
// unique solution exists.
func New(c *netlist.Circuit, lowestHz float64) (*Solver, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	if !(lowestHz > 0) || math.IsInf(lowestHz, 0) {
		return nil, fmt.Errorf("nodal: the lowest frequency is %g Hz, and should be positive", lowestHz)
	}
	s := &Solver{circuit: c, parts: append([]netlist.Part{}, c.Parts()...), lowHz: lowestHz, hz: -1}
	s.nodes = c.Nodes() - 1
	s.size = s.nodes
	for _, p := range s.parts {
		if p.Kind == netlist.Amplifier || p.Kind == netlist.Source {
			s.branch = append(s.branch, int32(s.size))
			s.size++
		} else {
			s.branch = append(s.branch, -1)
		}
	}
	s.write()
	var err error
	if s.ac, err = newPlan(s, 2*math.Pi*lowestHz); err != nil {
		return nil, err
	}
	s.allocate()
	return s, nil
}

// Clone is a solver of the same circuit with the same part values, sharing the
// order of elimination.
func (s *Solver) Clone() *Solver {
	t := *s
	t.parts = append([]netlist.Part{}, s.parts...)
	t.entries = append([]entry{}, s.entries...)
	t.hz = -1
	t.allocate()
	return &t
}

// SameOrder reports whether both eliminate in the same order: neither has had to find
// another one since the one was cloned from the other.
func (s *Solver) SameOrder(as *Solver) bool { return s.ac == as.ac }

func (s *Solver) allocate() {
	n := s.size
	for _, v := range []*[]complex128{&s.inverse, &s.x, &s.work, &s.step, &s.rhs, &s.adjoint} {
		*v = make([]complex128, n)
	}
	s.elements, s.sizes = make([]element, len(s.entries)), make([]float64, n)
	s.factors = make([]complex128, s.ac.slots)
}

// write builds the entries from the parts.
func (s *Solver) write() {
	at := map[[2]int32]int{}
	s.drive = make([]float64, s.size)
	s.byPart = make([][]stamp, len(s.parts))
	place := func(row, col int32) int {
		key := [2]int32{row, col}
		i, ok := at[key]
		if !ok {
			i = len(s.entries)
			at[key] = i
			s.entries = append(s.entries, entry{row: row, col: col})
			s.byEntry = append(s.byEntry, nil)
		}
		return i
	}
	add := func(row, col int32, g, c float64) {
		if row >= 0 && col >= 0 {
			e := &s.entries[place(row, col)]
			e.g += g
			e.c += c
		}
	}
	for i, p := range s.parts {
		for n, x := range p.Branches() {
			a, b := unknown(x.A), unknown(x.B)
			for _, m := range []struct {
				row, col int32
				sign     float64
			}{{a, a, 1}, {b, b, 1}, {a, b, -1}, {b, a, -1}} {
				if m.row >= 0 && m.col >= 0 && a != b {
					st := stamp{i, place(m.row, m.col), m.sign, n}
					s.byPart[i] = append(s.byPart[i], st)
					s.byEntry[st.entry] = append(s.byEntry[st.entry], st)
				}
			}
		}
		a, b := unknown(p.Nodes[0]), unknown(p.Nodes[1])
		k := s.branch[i]
		switch p.Kind {
		case netlist.Source:
			add(a, k, 1, 0)
			add(b, k, -1, 0)
			add(k, a, 1, 0)
			add(k, b, -1, 0)
			s.drive[k] = p.Value
		case netlist.Amplifier:
			out := unknown(p.Nodes[2])
			add(out, k, 1, 0)
			add(k, a, -1, 0)
			add(k, b, 1, 0)
			if m := p.Model; !m.Ideal {
				g, c := 1/m.OpenLoopGain, 1/(2*math.Pi*m.GainBandwidthHz)
				add(k, out, g, c)
				add(k, k, -g*(m.OutputOhm/unitOhm), -c*(m.OutputOhm/unitOhm))
			}
		}
	}
	for i := range s.entries {
		s.sum(i)
		s.byRow = append(s.byRow, int32(i))
	}
	slices.SortStableFunc(s.byRow, func(a, b int32) int { return cmp.Compare(s.entries[a].row, s.entries[b].row) })
}

// sum adds up an entry from the branches that share it: from
// all of them anew, so that a thousand changes of value leave no trace in the
// last digits. Entries of sources and op-amps stay as they are.
func (s *Solver) sum(entry int) {
	if len(s.byEntry[entry]) == 0 {
		return
	}
	var g, c float64
	for _, st := range s.byEntry[entry] {
		switch p := &s.parts[st.part]; p.Kind {
		case netlist.Resistor:
			g += st.sign * (unitOhm / p.Value)
		case netlist.Capacitor:
			c += st.sign * (unitOhm * p.Value)
		default:
			x := p.Branches()[st.branch]
			g, c = g+st.sign*(unitOhm*x.G), c+st.sign*(unitOhm*x.C)
		}
	}
	s.entries[entry].g, s.entries[entry].c = g, c
}

// unknown is a node's row and column, -1 for the ground.
func unknown(n netlist.Node) int32 { return int32(n) - 1 }

// admittance is g or c of a resistor or capacitor in the solver's units.
func admittance(p netlist.Part) float64 {
	if p.Kind == netlist.Resistor {
		return unitOhm / p.Value
	}
	return unitOhm * p.Value
}

// Set changes the value (ohm, farad) of one resistor or capacitor, and keeps
// the order of elimination. It fails for other parts and for values that are
// not positive and finite.
func (s *Solver) Set(part int, value float64) error {
	if part < 0 || part >= len(s.parts) || s.parts[part].Kind > netlist.Capacitor {
		return fmt.Errorf("nodal: part %d is no resistor or capacitor", part)
	}
	if !(value >= 1e-18 && value <= 1e15) {
		return fmt.Errorf("nodal: %s cannot be %g", s.parts[part].Ref, value)
	}
	s.parts[part].Value = value
	for _, st := range s.byPart[part] {
		s.sum(st.entry)
	}
	s.hz = -1
	return nil
}

// Value is the value (ohm, farad) that a part has now.
func (s *Solver) Value(part int) float64 { return s.parts[part].Value }

// At solves the circuit at hz (≥ the lowest frequency given to New is where
// the order of elimination is best; any positive frequency is accepted). The
// result stands until the next At, DC or Set.
func (s *Solver) At(hz float64) error {
	if !(hz > 0) || math.IsInf(hz, 0) {
		return fmt.Errorf("nodal: %g Hz is no positive frequency", hz)
	}
	w := 2 * math.Pi * hz
	s.hz = -1
	for i, v := range s.drive {
		s.rhs[i] = complex(v, 0)
	}
	s.factor(s.ac, w)
	r := s.solve(s.ac)
	if !(r <= maxResidual) {
		p, err := newPlan(s, w)
		if err != nil {
			return err
		}
		s.ac = p
		s.factors = make([]complex128, p.slots)
		s.factor(p, w)
		if r = s.solve(p); !(r <= maxResidual) {
			return fmt.Errorf("nodal: the equations are too ill-conditioned at %g Hz (residual %.1g)", hz, r)
		}
	}
	s.hz = hz
	return nil
}

// Voltage is a node's voltage (V) in the present solution; 0 for a node that
// the circuit did not have when New was called.
func (s *Solver) Voltage(n netlist.Node) complex128 {
	if !s.knows(n) {
		return 0
	}
	return s.x[unknown(n)]
}

// knows reports whether a node has an equation: the ground has none, nor has
// what came after New.
func (s *Solver) knows(n netlist.Node) bool { return n > netlist.Ground && int(n) <= s.nodes }

// Current is the current (A) into the positive end of a source, or into the
// output of an op-amp, in the present solution; 0 for other parts.
func (s *Solver) Current(part int) complex128 {
	if part < 0 || part >= len(s.branch) || s.branch[part] < 0 {
		return 0
	}
	return s.x[s.branch[part]] / unitOhm
}

// across is the difference of a vector between the ends of a part.
func (s *Solver) across(v []complex128, a, b netlist.Node) complex128 {
	var d complex128
	if a != netlist.Ground {
		d = v[unknown(a)]
	}
	if b != netlist.Ground {
		d -= v[unknown(b)]
	}
	return d
}

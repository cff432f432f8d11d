package board

import (
	"fmt"
	"sync"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// Resistance of a contact (ohm). Finite, so that nodal analysis and SPICE take
// it: a closed contact of a relay or jumper has some ten milliohms, and an open
// one, with its board, gigaohms. Through an open one comes 5e-12 of a signal
// that a closed one holds, -226 dB.
const (
	ClosedOhm = netlist.ClosedOhm
	OpenOhm   = netlist.OpenOhm
)

// between is the value of a contact while the order of elimination is found:
// neither open nor closed, so that no pivot hangs on it.
const between = 1e3

// Contact connects one alternative of a switched position.
type Contact struct {
	Ref      string
	A, B     string // nodes
	Position *Position
	Throw
}

// Closed reports whether a combination closes the contact.
func (k Contact) Closed(c biquad.Combination) bool { return k.Position.Index(c) == k.Alt }

// Contacts lists the contacts of every switched position, each named by its pole and the
// first position that it is closed in.
func (b *Board) Contacts() []Contact {
	var out []Contact
	for _, c := range b.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			if p.Selector == "" {
				continue
			}
			throws, pole := p.Throws()
			for _, t := range throws {
				out = append(out, Contact{Ref: fmt.Sprintf("%s_%d", p.Selector, t.At[0]), A: t.Node, B: pole, Position: p, Throw: t})
			}
		}
	}
	return out
}

// Sources are the nodes and levels (V) that drive the board: 1 V in all, half
// of it on either half of a balanced line.
func (b *Board) Sources() (nodes []string, volts []float64) {
	if b.Spec.Input.Balanced {
		return []string{"vin_p", "vin_n"}, []float64{0.5, -0.5}
	}
	return []string{"vin"}, []float64{1}
}

// Parts adds everything but sources and contacts of selectors to a circuit, with the
// mutes open.
func (b *Board) Parts(to *netlist.Circuit) {
	b.OnBoard(to)
	b.Outside(to)
}

// OnBoard adds the parts of the board, with the mutes open.
func (b *Board) OnBoard(to *netlist.Circuit) { b.onBoard(to, false) }

func (b *Board) onBoard(to *netlist.Circuit, muted bool) {
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if !p.Outside {
				b.placeEnd(to, p, muted)
			}
		}
		for _, s := range c.Built() {
			s.place(to, b.OpAmp)
		}
	}
	for _, p := range b.Packages {
		for _, u := range p.Spare {
			to.OpAmp(u, "0", u, u, b.OpAmp)
		}
	}
	for _, p := range b.Supply {
		b.placeEnd(to, p, muted)
	}
}

// Outside adds the resistances of the source and of what follows, which the board is
// reckoned with.
func (b *Board) Outside(to *netlist.Circuit) {
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if p.Outside {
				b.placeEnd(to, p, false)
			}
		}
	}
}

// placeEnd adds a part that belongs to no stage.
func (b *Board) placeEnd(to *netlist.Circuit, p Part, muted bool) {
	switch p.Kind {
	case netlist.Capacitor:
		to.Capacitor(p.Ref, p.A, p.B, p.Value)
	case netlist.Diode:
		to.Diode(p.Ref, p.A, p.B)
	case netlist.Contact:
		to.Relay(p.Ref, p.A, p.B, p.Control, !muted)
	case netlist.Transistor:
		gateV := b.MuteV()
		if muted {
			gateV = 0
		}
		to.JFET(p.Ref, p.A, p.Control, p.B, gateV)
	default:
		to.Resistor(p.Ref, p.A, p.B, p.Value)
	}
}

// place adds a stage's parts.
func (s *Stage) place(to *netlist.Circuit, m netlist.OpAmp) {
	refs := map[string]string{}
	for i, e := range s.Topology.Template {
		refs[e.Ref] = s.Refs[i]
	}
	s.Topology.Place(to, circuit.Names{
		Ref:  func(r string) string { return refs[r] },
		Node: s.Node,
	}, s.Values, m)
}

// Node is the board's node for one of the stage's template.
func (s *Stage) Node(n string) string {
	switch n {
	case "0":
		return n
	case "in":
		return s.In
	case "in_n":
		return s.InN
	case "out":
		return s.Out
	}
	return s.Out + "_" + n
}

// Circuit is the whole board in one combination, with its sources.
func (b *Board) Circuit(c biquad.Combination) *netlist.Circuit {
	return b.circuit(func(k Contact) float64 {
		if k.Closed(c) {
			return ClosedOhm
		}
		return OpenOhm
	})
}

func (b *Board) circuit(contact func(Contact) float64) *netlist.Circuit {
	return b.state(contact, false)
}

// state is the whole board with its contacts and mutes.
func (b *Board) state(contact func(Contact) float64, muted bool) *netlist.Circuit {
	to := netlist.New()
	to.Join(joined...)
	nodes, volts := b.Sources()
	for i, n := range nodes {
		to.Source("V"+n, n, "0", volts[i])
	}
	b.onBoard(to, muted)
	b.Outside(to)
	for _, k := range b.Contacts() {
		to.Resistor(k.Ref, k.A, k.B, contact(k))
	}
	return to
}

// wiring is the board's equations.
type wiring struct {
	solver   *nodal.Solver // solved at 0 Hz only, then cloned
	circuit  *netlist.Circuit
	contacts []Contact
	parts    []int // of each contact
	outs     []netlist.Node
	strained map[string]*strains // of the cases that the board is judged in

	mutex sync.Mutex
	idle  map[string][]*nodal.Solver // by combination: lent before and given back
	// variants is made when it is first asked for.
	variants func() *variants
	rests    sync.Map // of Rest, by way and combination
}

// variants are solvers of all combinations of settings at one frequency after the other.
type variants struct {
	mutex sync.Mutex
	first *nodal.Variants
	idle  []*nodal.Variants
}

// wire makes the equations.
func (b *Board) wire() error {
	c := b.circuit(func(Contact) float64 { return between })
	s, err := nodal.New(c, b.LowHz)
	if err != nil {
		return err
	}
	// The order of elimination at 0 Hz is found once as well. Where there is none, a
	// caution says so.
	_ = s.DC()
	w := &wiring{solver: s, circuit: c, contacts: b.Contacts(), idle: map[string][]*nodal.Solver{}}
	for _, k := range w.contacts {
		i, _ := c.Part(k.Ref)
		w.parts = append(w.parts, i)
	}
	for _, way := range b.Ways {
		w.outs = append(w.outs, c.Node(way.Out))
	}
	w.variants = sync.OnceValue(w.vary)
	b.wiring = w
	return nil
}

// vary makes the variants of the contacts; nil where there are no contacts, or no order of
// elimination that leaves them for last.
func (w *wiring) vary() *variants {
	if len(w.contacts) == 0 {
		return nil
	}
	v, err := nodal.NewVariants(w.solver, w.parts, w.outs)
	if err != nil {
		return nil
	}
	return &variants{first: v}
}

// lend is one for a worker.
func (v *variants) lend() *nodal.Variants {
	v.mutex.Lock()
	defer v.mutex.Unlock()
	if n := len(v.idle); n > 0 {
		last := v.idle[n-1]
		v.idle = v.idle[:n-1]
		return last
	}
	return v.first.Clone()
}

// giveBack takes one of lend's.
func (v *variants) giveBack(x *nodal.Variants) {
	v.mutex.Lock()
	v.idle = append(v.idle, x)
	v.mutex.Unlock()
}

// ohms are the resistances of the contacts in one combination.
func (w *wiring) ohms(c biquad.Combination) []float64 {
	out := make([]float64, len(w.contacts))
	for i, k := range w.contacts {
		out[i] = OpenOhm
		if k.Closed(c) {
			out[i] = ClosedOhm
		}
	}
	return out
}

// in is a solver of the board in one combination. It always starts from the
// same state, so that results do not depend on what was asked before.
func (w *wiring) in(c biquad.Combination) *nodal.Solver {
	s := w.solver.Clone()
	for i, ohm := range w.ohms(c) {
		if err := s.Set(w.parts[i], ohm); err != nil {
			panic("board: a contact is no resistor: " + err.Error())
		}
	}
	return s
}

// lend is a solver as in makes it, for a few frequencies: one that was given back where
// there is one, as making it takes longer than the frequencies do.
func (w *wiring) lend(c biquad.Combination) *nodal.Solver {
	w.mutex.Lock()
	if idle := w.idle[string(c)]; len(idle) > 0 {
		s := idle[len(idle)-1]
		w.idle[string(c)] = idle[:len(idle)-1]
		w.mutex.Unlock()
		return s
	}
	w.mutex.Unlock()
	return w.in(c)
}

// giveBack takes a solver of lend's whose parts have not been changed. One that found an
// order of elimination of its own is let go, so that the next results do not depend on
// what was asked before.
func (w *wiring) giveBack(c biquad.Combination, s *nodal.Solver) {
	if !s.SameOrder(w.solver) {
		return
	}
	w.mutex.Lock()
	w.idle[string(c)] = append(w.idle[string(c)], s)
	w.mutex.Unlock()
}

// InputCircuit is the input with its stage alone, driven by the volts on either leg;
// the second is without effect where the input is not balanced.
func (b *Board) InputCircuit(plus, minus float64) *netlist.Circuit {
	to := netlist.New()
	to.Join(joined...)
	volts := [...]float64{plus, minus}
	nodes, _ := b.Sources()
	for i, n := range nodes {
		to.Source("V"+n, n, "0", volts[i])
	}
	for _, p := range b.Common.Ends {
		if p.Use != Bleed {
			b.placeEnd(to, p, false)
		}
	}
	b.Common.Positions[0].Alt[0].Stages[0].place(to, b.OpAmp)
	return to
}

// Solver is the board's equations in one combination, and the nodes of the ways'
// outputs. It is the caller's own.
func (b *Board) Solver(c biquad.Combination) (*nodal.Solver, []netlist.Node) {
	return b.wiring.in(c), b.wiring.outs
}

// PartIndex is the index of a part in a Solver, -1 where there is none, and PartCount
// how many there are.
func (b *Board) PartIndex(ref string) int {
	if i, ok := b.wiring.circuit.Part(ref); ok {
		return i
	}
	return -1
}

// PartCount is described at PartIndex.
func (b *Board) PartCount() int { return len(b.wiring.circuit.Parts()) }

// Node is a node of a Solver by the name that a stage has for it.
func (b *Board) Node(name string) netlist.Node { return b.wiring.circuit.Node(name) }

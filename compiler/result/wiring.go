package result

import (
	"errors"
	"fmt"
	"math/cmplx"
	"reflect"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
)

// wire fills in how a build's board is wired.
func (a *AcceptedBoard) wire(b *compiler.Build) {
	m := b.Board.OpAmp
	a.OpAmp = AcceptedOpAmp{m.GainBandwidthHz, m.OpenLoopGain, m.OutputOhm}
	nodes, volts := b.Board.Sources()
	for i, n := range nodes {
		a.Outside = append(a.Outside, AcceptedPart{Ref: "V" + n, Nodes: []string{n, "0"}, Volt: volts[i]})
	}
	circuit := b.Board.Circuit(make(biquad.Combination, len(b.Settings)))
	a.parts(func(p *AcceptedPart) {
		if i, there := circuit.Part(p.Ref); there {
			placed := circuit.Parts()[i]
			p.Nodes = []string{circuit.Name(placed.Nodes[0]), circuit.Name(placed.Nodes[1])}
			switch placed.Kind {
			case netlist.Amplifier:
				p.Nodes = append(p.Nodes, circuit.Name(placed.Nodes[2]))
			case netlist.Transistor:
				p.Nodes, p.Farad = append(p.Nodes, circuit.Name(placed.Nodes[2])), placed.Value
			}
		}
	})
	for _, k := range b.Board.Contacts() {
		if a.Contacts == nil {
			a.Contacts = &AcceptedContacts{ClosedOhm: board.ClosedOhm, OpenOhm: board.OpenOhm}
		}
		x := AcceptedContact{Part: AcceptedPart{Ref: k.Ref, Nodes: []string{k.A, k.B}}, Closed: []map[string][]string{}}
		for _, c := range cover(k.Position.Slot) {
			if c.alternative != k.Alt {
				continue
			}
			when := c.when(k.Position.By, b.Settings)
			if when == nil {
				when = map[string][]string{} // in any choice
			}
			x.Closed = append(x.Closed, when)
		}
		a.Contacts.List = append(a.Contacts.List, x)
	}
	for _, w := range b.Board.Ways {
		a.Outputs = append(a.Outputs, AcceptedOutput{w.Name, w.Out})
	}
}

// parts calls f for every part but contacts.
func (a *AcceptedBoard) parts(f func(*AcceptedPart)) {
	for _, list := range [][]AcceptedPart{a.Outside, a.Ends} {
		for i := range list {
			f(&list[i])
		}
	}
	for _, s := range a.Stages {
		for _, list := range [][]AcceptedPart{s.Parts, s.OpAmps} {
			for i := range list {
				f(&list[i])
			}
		}
	}
}

// Wired reports whether it is known how the board is wired.
func (a *AcceptedBoard) Wired() bool { return len(a.Outputs) > 0 }

// Bare reports that nothing is known of how the board is wired, as of one from NAME.json.
func (a *AcceptedBoard) Bare() bool {
	bare := !a.Wired()
	a.parts(func(p *AcceptedPart) { bare = bare && p.Nodes == nil })
	return bare
}

// SameCircuit reports whether two boards are the same circuit, reference by
// reference, so that their responses are the same as well.
func (a *AcceptedBoard) SameCircuit(b *AcceptedBoard) bool {
	all := func(x *AcceptedBoard) (out []AcceptedPart) {
		x.parts(func(p *AcceptedPart) { out = append(out, *p) })
		return out
	}
	return a.CommonDelayS == b.CommonDelayS && a.OpAmp == b.OpAmp && slices.Equal(a.Outputs, b.Outputs) &&
		reflect.DeepEqual(a.Contacts, b.Contacts) && reflect.DeepEqual(all(a), all(b))
}

// between is a contact's resistance (ohm) while the order of elimination is found:
// neither open nor closed, so that no pivot hangs on it.
const between = 1e3

// circuit is the board with its sources; contacts are the places of the contacts
// among its parts.
func (a *AcceptedBoard) circuit() (c *netlist.Circuit, contacts []int, err error) {
	c = netlist.New()
	model := netlist.OpAmp{GainBandwidthHz: a.OpAmp.GainBandwidthHz, OpenLoopGain: a.OpAmp.OpenLoopGain, OutputOhm: a.OpAmp.OutputOhm}
	a.parts(func(p *AcceptedPart) {
		switch {
		case p.Nodes == nil:
			err = fmt.Errorf("%s has no nodes", p.Ref)
		case p.Ref[0] == 'Q': // stopped, so that its gate alone is left
			c.Capacitor(p.Ref+"_d", p.Nodes[0], p.Nodes[1], p.Farad)
			c.Capacitor(p.Ref+"_s", p.Nodes[2], p.Nodes[1], p.Farad)
		case len(p.Nodes) == 3:
			c.OpAmp(p.Ref, p.Nodes[0], p.Nodes[1], p.Nodes[2], model)
		case p.Volt != 0:
			c.Source(p.Ref, p.Nodes[0], p.Nodes[1], p.Volt)
		case p.Farad > 0:
			c.Capacitor(p.Ref, p.Nodes[0], p.Nodes[1], p.Farad)
		default:
			c.Resistor(p.Ref, p.Nodes[0], p.Nodes[1], p.Ohm)
		}
	})
	if a.Contacts != nil {
		for _, k := range a.Contacts.List {
			if k.Part.Nodes == nil {
				return nil, nil, fmt.Errorf("%s has no nodes", k.Part.Ref)
			}
			contacts = append(contacts, c.Resistor(k.Part.Ref, k.Part.Nodes[0], k.Part.Nodes[1], between))
		}
	}
	if err != nil {
		return nil, nil, err
	}
	return c, contacts, c.Check()
}

// check says what of a wired board could not be analysed.
func (a *AcceptedBoard) check() error {
	if !a.Wired() {
		return errors.New("it has no `outputs`")
	}
	c, _, err := a.circuit()
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), "netlist: "))
	}
	for _, o := range a.Outputs {
		if _, there := c.Find(o.Node); !there {
			return fmt.Errorf("the output of %s is at no node of it", o.Way)
		}
	}
	if k := a.Contacts; k != nil && !(k.ClosedOhm >= 1e-9 && k.ClosedOhm < k.OpenOhm && k.OpenOhm <= 1e15) {
		return errors.New("a closed contact needs less resistance than an open one")
	}
	return nil
}

// chunk is how many frequencies one solver takes in turn. It is fixed, so that
// results do not depend on the number of processors.
const chunk = 17

// Responses are the ways' in each of some combinations by name at hz (Hz,
// rising), sources, loads and op-amps included, the common delay taken out:
// [combination][output][frequency]. It fails where the circuit has no unique solution.
func (a *AcceptedBoard) Responses(combos []map[string]string, hz []float64) ([][][]complex128, error) {
	c, contacts, err := a.circuit()
	if err != nil {
		return nil, err
	}
	base, err := nodal.New(c, hz[0]/2)
	if err != nil {
		return nil, err
	}
	var outs []netlist.Node
	for _, o := range a.Outputs {
		outs = append(outs, c.Node(o.Node))
	}
	known := map[string][][]complex128{} // by which contacts are closed
	var all [][][]complex128
	for _, choices := range combos {
		closed := a.closed(choices)
		h := known[closed]
		if h == nil {
			for range outs {
				h = append(h, make([]complex128, len(hz)))
			}
			ohm := func(i int) float64 {
				if closed[i] == '1' {
					return a.Contacts.ClosedOhm
				}
				return a.Contacts.OpenOhm
			}
			if err := sweep(h, base, contacts, ohm, outs, hz); err != nil {
				return nil, err
			}
			for _, way := range h {
				for i, f := range hz {
					way[i] *= cmplx.Conj(biquad.Delay(f, a.CommonDelayS))
				}
			}
			known[closed] = h
		}
		all = append(all, h)
	}
	return all, nil
}

// closed is a digit for each contact: 1 for a closed one.
func (a *AcceptedBoard) closed(choices map[string]string) string {
	if a.Contacts == nil {
		return ""
	}
	digits := make([]byte, len(a.Contacts.List))
	for i, k := range a.Contacts.List {
		digits[i] = '0'
		if slices.ContainsFunc(k.Closed, func(when map[string][]string) bool { return holds(when, choices) }) {
			digits[i] = '1'
		}
	}
	return string(digits)
}

// sweep solves a circuit with its contacts set, at every frequency.
func sweep(dst [][]complex128, base *nodal.Solver, contacts []int, ohm func(int) float64, outs []netlist.Node, hz []float64) error {
	return parallel.Try((len(hz)+chunk-1)/chunk, func(part int) error {
		s := base.Clone()
		for i, k := range contacts {
			if err := s.Set(k, ohm(i)); err != nil {
				return err
			}
		}
		for i := part * chunk; i < min(len(hz), (part+1)*chunk); i++ {
			if err := s.At(hz[i]); err != nil {
				return err
			}
			for w, out := range outs {
				dst[w][i] = s.Voltage(out)
			}
		}
		return nil
	})
}

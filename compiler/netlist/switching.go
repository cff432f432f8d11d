package netlist

import "math"

const (
	// CoilV and CoilOhm are a relay's coil (V, ohm): usual for one small-signal relay
	// of 12 V, some 140 mW.
	CoilV, CoilOhm = 12, 1000
	// JFETOnOhm (ohm) is a depletion transistor without gate voltage, of a type made for
	// switching, and JFETOffV (V) the gate voltage, negative, at which it stops.
	JFETOnOhm, JFETOffV = 10, 4
	// jfetGateF (F) is each of its gate's junctions without voltage and junctionV (V) what
	// their capacitance falls with: C/sqrt(1 + V/junctionV), an abrupt junction's.
	jfetGateF, junctionV = 20e-12, 1
	// DiodeF (F) is a small-signal diode's capacitance, at any voltage here: they fall by a
	// third at most, and none of it matters.
	DiodeF = 2e-12
	// OpenOhm (ohm) is an open contact with its board, ClosedOhm a closed one: some ten
	// milliohms. Finite, so that nodal analysis and SPICE take it. Through an open one
	// comes 5e-12 of a signal that a closed one holds, -226 dB.
	ClosedOhm, OpenOhm = 0.05, 1e10
)

// JFETGateF is the capacitance (F) of a depletion transistor's gate to either end, with so
// many volts (V, >= 0) that stop it between them.
func JFETGateF(volts float64) float64 { return jfetGateF / math.Sqrt(1+volts/junctionV) }

// Diode adds a small-signal diode that is never forward biased, which for signals is its
// capacitance, and returns its index.
func (c *Circuit) Diode(ref, anode, cathode string) int {
	return c.add(Part{Ref: ref, Kind: Diode, Nodes: [3]Node{c.Node(anode), c.Node(cathode)}, Value: DiodeF})
}

// Relay adds a relay whose contact opens with CoilV between coil and the ground, and
// returns its contact's index. open says which state is analysed.
func (c *Circuit) Relay(ref, a, b, coil string, open bool) int {
	ohm := float64(ClosedOhm)
	if open {
		ohm = OpenOhm
	}
	return c.add(Part{Ref: ref, Kind: Contact, Nodes: [3]Node{c.Node(a), c.Node(b), c.Node(coil)}, Value: ohm})
}

// JFET adds an n-channel depletion transistor and returns its index. It conducts without
// gate voltage; gateV (V, <= 0) is what it has, and stops it below -JFETOffV.
func (c *Circuit) JFET(ref, drain, gate, source string, gateV float64) int {
	return c.add(Part{Ref: ref, Kind: Transistor, Nodes: [3]Node{c.Node(drain), c.Node(gate), c.Node(source)},
		Value: JFETGateF(-gateV), On: gateV > -JFETOffV})
}

// Branch is an admittance between two nodes: G siemens and C farad.
type Branch struct {
	A, B Node
	G, C float64
}

// Branches are what a part is for small signals between its nodes; none of sources and
// op-amps, which have equations of their own.
func (p Part) Branches() []Branch {
	a, b := p.Nodes[0], p.Nodes[1]
	switch p.Kind {
	case Resistor, Contact:
		return []Branch{{A: a, B: b, G: 1 / p.Value}}
	case Capacitor, Diode:
		return []Branch{{A: a, B: b, C: p.Value}}
	case Transistor:
		out := []Branch{{A: a, B: b, C: p.Value}, {A: p.Nodes[2], B: b, C: p.Value}}
		if p.On {
			out = append(out, Branch{A: a, B: p.Nodes[2], G: 1.0 / JFETOnOhm})
		}
		return out
	}
	return nil
}

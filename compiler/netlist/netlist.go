// Package netlist holds circuits: resistors, capacitors, op-amps, voltage sources,
// and what protects and mutes a board, between named nodes. Parts come in one at a time, a Circuit goes out,
// which compiler/nodal analyses and SPICE prints.
//
// It is a leaf and computes nothing. The one invariant: a Circuit that
// Check accepts has finite, positive part values and names that SPICE can
// read.
//
// Read first: Circuit, Part, OpAmp.
package netlist

import (
	"fmt"
	"math"
	"strings"
)

// Node is an index into a circuit's node names. Node 0 is the ground.
type Node int

// Ground is the reference node; its name is "0".
const Ground Node = 0

// Kind says what a part is.
type Kind uint8

// The kinds of part.
const (
	Resistor Kind = iota
	Capacitor
	Amplifier
	Source
	Diode
	Contact
	Transistor
)

// String is the kind in words.
func (k Kind) String() string {
	switch k {
	case Resistor:
		return "resistor"
	case Capacitor:
		return "capacitor"
	case Amplifier:
		return "op-amp"
	case Source:
		return "source"
	case Diode:
		return "diode"
	case Contact:
		return "relay"
	case Transistor:
		return "transistor"
	}
	return "unknown part"
}

// Part is one part of a circuit.
type Part struct {
	Ref  string // unique without regard to case, such as "R1", "U3A"
	Kind Kind
	// Nodes are the two ends of a resistor or capacitor, the positive and the
	// negative end of a source, an op-amp's +, - and output, a diode's anode and
	// cathode, the ends of a relay's contact and the driven end of its coil, and a
	// transistor's drain, gate and source.
	Nodes [3]Node
	// Value is in ohm or farad, > 0; of a source its level in volts for AC
	// analysis, any sign; of a diode and of a transistor's gate to either end the
	// capacitance (F) at the voltage that stands across it; of a contact its resistance
	// in the state that is analysed.
	Value float64
	// On says that a transistor conducts, with JFETOnOhm.
	On    bool
	Model OpAmp // of an op-amp
}

// Circuit is a list of parts between named nodes.
type Circuit struct {
	names []string
	index map[string]Node
	parts []Part
}

// New is a circuit without parts, with the ground as its only node.
func New() *Circuit {
	return &Circuit{names: []string{"0"}, index: map[string]Node{"0": Ground}}
}

// Node finds the node of a name and makes it where there is none yet. Names
// are compared in lower case, as SPICE does; "0" and "gnd" are the ground.
func (c *Circuit) Node(name string) Node {
	name = strings.ToLower(name)
	if name == "gnd" {
		return Ground
	}
	if n, ok := c.index[name]; ok {
		return n
	}
	n := Node(len(c.names))
	c.names = append(c.names, name)
	c.index[name] = n
	return n
}

// Find is the node of a name, and whether there is one.
func (c *Circuit) Find(name string) (Node, bool) {
	name = strings.ToLower(name)
	if name == "gnd" {
		return Ground, true
	}
	n, ok := c.index[name]
	return n, ok
}

// Nodes is the number of nodes, the ground included.
func (c *Circuit) Nodes() int { return len(c.names) }

// Name is a node's name in lower case.
func (c *Circuit) Name(n Node) string {
	if n < 0 || int(n) >= len(c.names) {
		return fmt.Sprintf("node %d", int(n))
	}
	return c.names[n]
}

// Parts lists the parts in the order in which they came. The caller must not
// change it.
func (c *Circuit) Parts() []Part { return c.parts }

// Part finds a part's index by its reference, whatever the case.
func (c *Circuit) Part(ref string) (int, bool) {
	for i, p := range c.parts {
		if strings.EqualFold(p.Ref, ref) {
			return i, true
		}
	}
	return 0, false
}

// Resistor adds a resistor (ohm) between two nodes and returns its index.
func (c *Circuit) Resistor(ref, a, b string, ohm float64) int {
	return c.add(Part{Ref: ref, Kind: Resistor, Nodes: [3]Node{c.Node(a), c.Node(b)}, Value: ohm})
}

// Capacitor adds a capacitor (farad) between two nodes and returns its index.
func (c *Circuit) Capacitor(ref, a, b string, farad float64) int {
	return c.add(Part{Ref: ref, Kind: Capacitor, Nodes: [3]Node{c.Node(a), c.Node(b)}, Value: farad})
}

// OpAmp adds an op-amp and returns its index.
func (c *Circuit) OpAmp(ref, plus, minus, out string, model OpAmp) int {
	return c.add(Part{Ref: ref, Kind: Amplifier, Nodes: [3]Node{c.Node(plus), c.Node(minus), c.Node(out)}, Model: model})
}

// Source adds a voltage source with an AC level (V) and no DC level, and
// returns its index.
func (c *Circuit) Source(ref, plus, minus string, volts float64) int {
	return c.add(Part{Ref: ref, Kind: Source, Nodes: [3]Node{c.Node(plus), c.Node(minus)}, Value: volts})
}

// Join makes names other names of the ground: rails and control nodes, for analysis
// of small signals. It is of use before they have parts.
func (c *Circuit) Join(names ...string) {
	for _, name := range names {
		c.index[strings.ToLower(name)] = Ground
	}
}

func (c *Circuit) add(p Part) int {
	c.parts = append(c.parts, p)
	return len(c.parts) - 1
}

// Check says what is wrong with the circuit: a name that SPICE cannot read, a
// reference used twice, a value that is not positive and finite, op-amp data
// out of range. It does not ask whether the equations have a solution;
// compiler/nodal says which node floats.
func (c *Circuit) Check() error {
	for _, name := range c.names {
		if !plain(name) {
			return fmt.Errorf("netlist: node name %q should be letters, digits and _", name)
		}
	}
	refs := map[string]bool{}
	for _, p := range c.parts {
		if !plain(p.Ref) {
			return fmt.Errorf("netlist: reference %q should be letters, digits and _", p.Ref)
		}
		if err := p.check(); err != nil {
			return err
		}
		// A resistor "1" and a resistor "R1" are the same line for SPICE.
		for _, name := range []string{strings.ToLower(p.Ref), strings.ToLower(p.line())} {
			if refs[name] {
				return fmt.Errorf("netlist: two parts are called %s", p.Ref)
			}
		}
		refs[strings.ToLower(p.Ref)], refs[strings.ToLower(p.line())] = true, true
	}
	return nil
}

func (p Part) check() error {
	if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) {
		return fmt.Errorf("netlist: the value of %s is not finite", p.Ref)
	}
	switch p.Kind {
	case Resistor, Capacitor, Diode, Contact, Transistor:
		if !(p.Value > 0) {
			return fmt.Errorf("netlist: %s is %g, and should be positive", p.Ref, p.Value)
		}
		if lo, hi := 1e-18, 1e15; p.Value < lo || p.Value > hi {
			return fmt.Errorf("netlist: %s is %g, and should be from %g to %g", p.Ref, p.Value, lo, hi)
		}
	case Amplifier:
		if err := p.Model.Check(); err != nil {
			return fmt.Errorf("netlist: %s: %w", p.Ref, err)
		}
	case Source:
	default:
		return fmt.Errorf("netlist: %s is of no known kind", p.Ref)
	}
	return nil
}

// plain reports whether SPICE reads the name as one word everywhere.
func plain(name string) bool {
	if name == "" {
		return false
	}
	for _, r := range name {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_') {
			return false
		}
	}
	return true
}

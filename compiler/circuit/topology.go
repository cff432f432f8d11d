// Package circuit knows the op-amp stages that analog sections are built from.
// A section comes in, part values go out, or a reason why a stage cannot be
// it.
//
// Each topology is one file and one row of Topologies: a netlist template, the
// closed form of its transfer function, the inverse design, what it realises.
// What a family shares stands in a file of the family's name.
// The one invariant: template, closed form and inverse design agree, which
// circuittest holds for every row; there the template is judged by nodal
// analysis and by a circuit simulator.
//
// Read first: Topology, Ask, Topology.Propose.
package circuit

import (
	"bandwright/compiler/netlist"
)

// Topology is one kind of stage.
type Topology struct {
	Name string // as specs and artefacts write it
	Doc  string // what it is good for, and how it fails
	// Source is where the transfer function is printed, or how it was derived.
	Source string
	// Template is the netlist between the nodes "in" (and "in_n" where Balanced),
	// "out" and "0".
	Template []Element
	// Layout is how the stage is drawn, in the lines that compiler/drawing reads.
	Layout   string
	Balanced bool // has a second, inverting input node "in_n"
	Inverts  bool // the output has the opposite sign of the section
	// Realises lists the shapes of section that the stage can be.
	Realises []Shape
	// LevelFixed: the stage has the section's shape at a level of its own, and
	// another stage has to make up the difference.
	LevelFixed bool
	// Saves: the stage takes fewer op-amps than other rows take for the same, at a price in noise or
	// level that a board pays only where the filter names it.
	Saves bool
	// MaxQ is the highest Q (of the pole pair, where no caution says otherwise)
	// that parts of 1 % and usual op-amps allow; 0 where Q does not matter.
	MaxQ float64
	// Opens is the element without which the stage is exactly flat, at the level that its
	// section has where it does nothing: what a selector opens to switch it off. "" where
	// there is none.
	Opens string
	// Free are the choices that the section leaves open.
	Free []Free
	// Closed is the transfer function for part values in the order of
	// Parts, with ideal op-amps, whatever the values; 0 stands for a part that
	// is not fitted.
	Closed func(v []float64) Ratio
	// Design finds the part values for a section of a shape in Realises and for
	// a value of each free choice. The result is unrounded; it may lie outside
	// of what can be bought. The error says in words why there is none.
	Design func(a Asked, free []float64) ([]float64, error)
	// Cautions are remarks on a finished stage beyond those that hold for all
	// stages; nil where there are none.
	Cautions func(a Asked, v []float64, m Means) []Caution
}

// Free is a choice that a section leaves open: a capacitor, a resistor that
// sets the impedance level, a ratio.
type Free struct {
	Name string // the part's reference where it is a part
	Unit string // "F", "ohm" or "" for a plain number
	Doc  string
	// Try lists values worth trying, in order of preference.
	Try func(a Asked, m Means) []float64
}

// Element is one part of a template.
type Element struct {
	Kind  netlist.Kind
	Ref   string
	Nodes []string // of an op-amp: +, -, output
	// Shunt: a resistor to ground that may be far below the others, because
	// no op-amp drives it.
	Shunt bool
	// Optional: the stage works without it (its value is 0).
	Optional bool
}

func r(ref, a, b string) Element {
	return Element{Kind: netlist.Resistor, Ref: ref, Nodes: []string{a, b}}
}

func c(ref, a, b string) Element {
	return Element{Kind: netlist.Capacitor, Ref: ref, Nodes: []string{a, b}}
}

func u(ref, plus, minus, out string) Element {
	return Element{Kind: netlist.Amplifier, Ref: ref, Nodes: []string{plus, minus, out}}
}

func (e Element) shunt() Element    { e.Shunt = true; return e }
func (e Element) optional() Element { e.Optional = true; return e }

// Parts lists the resistors and capacitors of the template, in the order of
// part values.
func (t *Topology) Parts() []Element {
	var out []Element
	for _, e := range t.Template {
		if e.Kind != netlist.Amplifier {
			out = append(out, e)
		}
	}
	return out
}

// OpAmps is how many op-amps the stage takes.
func (t *Topology) OpAmps() int { return len(t.Template) - len(t.Parts()) }

// Can reports whether the stage realises sections of a shape.
func (t *Topology) Can(s Shape) bool {
	for _, r := range t.Realises {
		if r == s {
			return true
		}
	}
	return false
}

// Names turns the references and nodes of a template into those of a circuit.
// Node gets "in", "in_n", "out" and the inner nodes, never the ground.
type Names struct{ Ref, Node func(string) string }

// Place adds the stage to a circuit, with part values in the order of Parts
// (0: not fitted) and one op-amp model.
func (t *Topology) Place(to *netlist.Circuit, names Names, v []float64, m netlist.OpAmp) {
	node := func(n string) string {
		if n == "0" {
			return n
		}
		return names.Node(n)
	}
	k := 0
	for _, e := range t.Template {
		a, b := node(e.Nodes[0]), node(e.Nodes[1])
		switch e.Kind {
		case netlist.Amplifier:
			to.OpAmp(names.Ref(e.Ref), a, b, node(e.Nodes[2]), m)
			continue
		case netlist.Resistor:
			if v[k] != 0 {
				to.Resistor(names.Ref(e.Ref), a, b, v[k])
			}
		case netlist.Capacitor:
			if v[k] != 0 {
				to.Capacitor(names.Ref(e.Ref), a, b, v[k])
			}
		}
		k++
	}
}

// Alone is the stage by itself, with its template's names and a source of 1 V
// at the input; a balanced stage gets half of it, in opposite phase, at either
// input.
func (t *Topology) Alone(v []float64, m netlist.OpAmp) *netlist.Circuit {
	to := netlist.New()
	if t.Balanced {
		to.Source("Vin", "in", "0", 0.5)
		to.Source("Vin_n", "in_n", "0", -0.5)
	} else {
		to.Source("Vin", "in", "0", 1)
	}
	same := func(s string) string { return s }
	t.Place(to, Names{same, same}, v, m)
	return to
}

// Topologies is every stage, in the order that documentation lists them.
var Topologies = []*Topology{
	&follower, &divider, &nonInvertingGain, &invertingGain,
	&differenceAmplifier, &bufferedDifferenceAmplifier,
	&rcLowPass, &rcHighPass, &rcLowPassGain, &rcHighPassGain, &invertingLowPass, &invertingHighPass,
	&lowBoost, &highBoost, &lowCut, &highCut, &invertingLowShelf, &invertingHighShelf,
	&laggingAllPass, &leadingAllPass,
	&sallenKeyLowPass, &sallenKeyHighPass, &sallenKeyLowPassGain, &sallenKeyHighPassGain, &sallenKeyBandPass,
	&multipleFeedbackLowPass, &multipleFeedbackHighPass, &multipleFeedbackBandPass,
	&multipleFeedbackCut, &multipleFeedbackBoost, &sumWithBandPass, &bandPassInFeedback, &sumWithLowPass, &lowPassInFeedback, &sumWithHighPass, &highPassInFeedback,
	&fliege, &bainter, &twinT,
	&bridgedT,
	&stateVariableLowPass, &stateVariableBandPass, &stateVariableHighPass, &stateVariableSum,
	&towThomas,
}

// ByName finds a topology.
func ByName(name string) (*Topology, bool) {
	for _, t := range Topologies {
		if t.Name == name {
			return t, true
		}
	}
	return nil, false
}

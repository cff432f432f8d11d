package circuit

import (
	"fmt"
	"slices"

	"bandwright/biquad"
)

// SwitchedPairName is what held boards and artefacts call the stage of SwitchedPair.
const SwitchedPairName = "switched-pair"

// SwitchedPairDoc is what documentation says of it.
const SwitchedPairDoc = "An inverting amplifier and one low-pass, high-pass or band-pass that a selector feeds with the stage's input or with its output: a shelf or peak and its exact reciprocal, and flat, with two op-amps."

// SwitchedPair is an inverting amplifier with equal resistors R, to which a filter F of one op-amp
// adds through Rb. What a selector feeds the filter with decides: with the stage's input it is
// -(1+F·R/Rb), with its output -1/(1+F·R/Rb), the reciprocal with the same parts, and with the ground
// it adds nothing. Peaks and shelves of one strength up and down are such reciprocals, with the same
// frequency and Q (by the W3C cookbook's formulas 1/G for G exchanges numerator and denominator).
//
// The contact is before the filter and not behind it: what the filter adds always goes to the virtual
// ground, and only where it comes from makes the one or the other. Its throws are the outputs of two
// op-amps and the ground, so that it has to break before it makes; while it is open Rh holds the input
// of an op-amp that had no other path for its bias current.
//
// The sections are one that the input's filter makes and one that the output's does, in either order,
// and flat asks for the ground besides. It is nil where they are not made by one kind of filter.
//
// Parts: those of PairOf, and Rh where the filter needs it.
func SwitchedPair(sections []biquad.Analog, flat bool) *Switched {
	of := PairOf(sections)
	if of == nil {
		return nil
	}
	t := Topology{Name: SwitchedPairName, Source: "node equations", Doc: SwitchedPairDoc}
	n := networkOf(sections[forward(sections)])
	for _, e := range of.Template {
		e.Nodes = slices.Clone(e.Nodes)
		for k, node := range e.Nodes {
			if node == "in" && e.Ref != "Ra" {
				e.Nodes[k] = Pole
			}
		}
		t.Template = append(t.Template, e)
	}
	if n.floats {
		t.Template = append(t.Template, r("Rh", Pole, "0"))
	}
	t.Layout = pairPicture(n, flat)
	parts := len(of.Parts())
	var states []State
	for _, s := range sections {
		own := networkOf(s)
		throw := "in"
		if own.feedback {
			throw = "out"
		}
		states = append(states, t.at(throw, func(v []float64) Ratio { return own.of.Closed(v[:parts]) }))
	}
	if flat {
		states = append(states, t.at("0", func(v []float64) Ratio {
			return Ratio{Polynomial{-v[parts-1]}, Polynomial{v[parts-3]}} // Rf and Ra stand at a network's end
		}))
	}
	t.Closed = states[0].Closed
	return t.switched(states...)
}

// PairOf is the topology whose parts SwitchedPair has, that of the section which the input's filter
// makes; nil where two sections make no such pair.
func PairOf(sections []biquad.Analog) *Topology {
	if len(sections) != 2 {
		return nil
	}
	a, b := networkOf(sections[0]), networkOf(sections[1])
	if a == nil || b == nil || a.picture != b.picture || a.feedback == b.feedback {
		return nil
	}
	return networkOf(sections[forward(sections)]).of
}

// forward is which of a pair's sections has its filter fed by the input.
func forward(sections []biquad.Analog) int {
	if networkOf(sections[0]).feedback {
		return 1
	}
	return 0
}

// pairPicture is how a pair is drawn: the selector before the filter, the lane of the output below it.
func pairPicture(n *network, flat bool) string {
	const lane, pole, filter = 21, 24, 31
	out := fmt.Sprintf("out %d,0\nwire in 5,0\ntap in 5,0\ntap out 3,14\npole %d,0\nwire %d,0 %d,0\n", filter+59, pole, pole, filter)
	if flat {
		out += "tap 0 5,7\ngnd 5,7\n"
	}
	if n.floats {
		out += fmt.Sprintf("Rh v %d,5\nwire %d,0 Rh.1\ngnd Rh.2\n", pole+2, pole+2)
	}
	sum := "Rb > 39,0\nRa > 39,-19\nU2 51,2\nRf > 51,-6\nwire 33,0 Rb.1\nwire Rb.2 U2-\nplus U2\nwire Ra.2 45, ,-6 Rf.1\nwire 45,-6 ,0\nwire Rf.2 57, ,2 U2o\n"
	return out + moved(n.picture+sum, filter, 0, nil) +
		fmt.Sprintf("wire 1,0 ,-19 Ra.1\nwire %d,0 out\nwire %d,2 ,%d 3, ,14\n", filter+57, filter+57, lane)
}

package circuit

import (
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/netlist"
)

// Switched is one stage of which a selector switches an element: its circuit, with the
// node Pole, and what it is with the selector in each of its positions.
type Switched struct {
	*Topology
	States []State
	// Element is what the selector opens, "" where it picks a tap.
	Element string
}

// State is a switched stage with its selector in one position: a topology with the same
// parts in the same order, of which those that are in use make its closed form. It is
// proposed for no section.
type State struct {
	*Topology
	Throw string // the node that the selector connects with the pole, "" for none
}

// Pole is the node of a switched stage's template that its selector connects.
const Pole = "pole"

// farAway (ohm) stands for an open resistor in closed forms: what is added to it is
// lost in its last digit.
const farAway = 1e30

// Opened is the stage with a selector at its element Opens: as it is, and flat. The
// contact is at the element's grounded or else its driven end, where it picks up least.
func (t *Topology) Opened() *Switched {
	i := slices.IndexFunc(t.Template, func(e Element) bool { return e.Ref == t.Opens })
	part := slices.IndexFunc(t.Parts(), func(e Element) bool { return e.Ref == t.Opens })
	e := t.Template[i]
	end := 0
	if e.Nodes[1] == "0" || t.drives(e.Nodes[1]) && e.Nodes[0] != "0" {
		end = 1
	}
	throw := e.Nodes[end]
	body := *t
	body.Template = slices.Clone(t.Template)
	e.Nodes = slices.Clone(e.Nodes)
	e.Nodes[end] = Pole
	body.Template[i] = e
	without := farAway
	if e.Kind == netlist.Capacitor {
		without = 0
	}
	off := body
	off.Closed = func(v []float64) Ratio {
		w := slices.Clone(v)
		w[part] = without
		return t.Closed(w)
	}
	off.Cautions = nil
	on := *t
	s := body.switched(State{&on, throw}, State{&off, ""})
	s.Element = t.Opens
	return s
}

// drives reports whether an op-amp of the template drives a node.
func (t *Topology) drives(node string) bool {
	return slices.ContainsFunc(t.Template, func(e Element) bool { return e.Kind == netlist.Amplifier && e.Nodes[2] == node })
}

// switched is the stage with its states, none of which is a choice for a section.
func (t Topology) switched(states ...State) *Switched {
	idle := func(x *Topology) { x.Realises, x.Free, x.Design, x.Opens = nil, nil, nil, "" }
	idle(&t)
	for _, s := range states {
		idle(s.Topology)
	}
	return &Switched{Topology: &t, States: states}
}

// at is the state in which a throw is connected with the pole.
func (t Topology) at(throw string, closed func(v []float64) Ratio) State {
	t.Template = slices.Clone(t.Template)
	for i, e := range t.Template {
		if p := slices.Index(e.Nodes, Pole); p >= 0 {
			t.Template[i].Nodes = slices.Clone(e.Nodes)
			t.Template[i].Nodes[p] = throw
		}
	}
	t.Closed = closed
	return State{&t, throw}
}

// TappedGainName is what specs of held boards and artefacts call the stage of TappedGain.
const TappedGainName = "tapped-gain"

// TappedGain is a string of resistors from the input to the ground, of which a selector
// picks the tap, and a non-inverting amplifier behind it: as many gains as it has taps,
// the largest first, with one op-amp. The contact feeds the op-amp's input, so that its
// resistance does not matter, and a resistor to the ground holds that where the selector
// is between two taps. With top, the first tap is below the input; with amplifies, the
// op-amp has a gain above 1, else it is a follower.
//
// Parts: the string from the top down, the resistor at the pole, and with amplifies that
// from the inverting input to the ground and that of the feedback.
func TappedGain(taps int, top, amplifies bool) *Switched {
	t := Topology{Name: TappedGainName, Source: "node equations",
		Doc: "A string of resistors with a selected tap and a non-inverting amplifier: several gains with one op-amp, whose input the contact feeds."}
	tap := func(i int) string { return fmt.Sprintf("t%d", i+1) }
	at := "in"
	n, y := 0, 0 // of the resistors of the string, and the height of the last tap
	layout := fmt.Sprintf("out %d,0\nwire in 12,0\n", taps+50)
	add := func(to string) {
		n++
		t.Template = append(t.Template, r(fmt.Sprintf("R%d", n), at, to).shunt())
		at = to
		layout += fmt.Sprintf("R%d v 12,%d\nwire 12,%d R%d.1\n", n, 9*n-4, y, n)
		y = 9*n + 1
	}
	nodes := make([]string, taps)
	for i := range nodes {
		if nodes[i] = at; i > 0 || top {
			nodes[i] = tap(i)
			add(nodes[i])
			layout += fmt.Sprintf("wire R%d.2 12,%d\ntap %s 12,%d\n", n, y, nodes[i], y)
		} else {
			layout += "tap in 12,0\n"
		}
	}
	add("0")
	strung := n
	x := taps + 30 // behind a lane for each tap, and the selector
	layout += fmt.Sprintf("gnd R%d.2\npole %d,0\nwire %d,0 U1+\nU1 %d,-2\nR%d v %d,4\nwire %d,0 R%d.1\ngnd R%d.2\n", n, x-3, x-3, x+12, n+1, x, x, n+1, n+1)
	t.Template = append(t.Template, r(fmt.Sprintf("R%d", n+1), Pole, "0"))
	minus := "out"
	t.Layout = layout + fmt.Sprintf("loop U1\nwire U1o %d, ,0 out\n", x+18)
	if amplifies {
		minus = "m"
		t.Layout = layout + fmt.Sprintf("R%d < %d,-10\nR%d < %d,-10\nwire U1- %d, ,-10\nwire R%d.1 R%d.2\nwire R%d.2 %d,\ngnd %d,-10\nwire R%d.1 %d, ,-2 U1o\nwire %d,-2 ,0 out\n",
			n+2, x+3, n+3, x+12, x+7, n+2, n+3, n+2, x-2, x-2, n+3, x+18, x+18)
		t.Template = append(t.Template, r(fmt.Sprintf("R%d", n+2), "m", "0").shunt(), r(fmt.Sprintf("R%d", n+3), "out", "m"))
	}
	t.Template = append(t.Template, u("U1", Pole, minus, "out"))
	var states []State
	for i, node := range nodes {
		above := i
		if top {
			above++
		}
		states = append(states, t.at(node, func(v []float64) Ratio { return tapped(v, above, strung, amplifies) }))
	}
	t.Closed = states[0].Closed
	return t.switched(states...)
}

// tapped is the gain at the tap below the first `above` of `strung` resistors.
func tapped(v []float64, above, strung int, amplifies bool) Ratio {
	up, low := 0.0, 0.0
	for i, x := range v[:strung] {
		if i < above {
			up += x
		} else {
			low += x
		}
	}
	hold := v[strung]
	n, d := low*hold, up*(low+hold)+low*hold
	if amplifies {
		minus, feedback := v[strung+1], v[strung+2]
		n, d = n*(minus+feedback), d*minus
	}
	return Ratio{Polynomial{n}, Polynomial{d}}
}

// TappedOf is TappedGain with so many parts, nil where there is none.
func TappedOf(taps, parts int) *Switched {
	more := parts - taps - 1
	if more < 0 || more > 3 {
		return nil
	}
	return TappedGain(taps, more%2 == 1, more > 1)
}

// DesignTapped are the resistors of TappedGain's string, of so many ohms in all, for gains
// from the largest down with an amplifier of a gain behind it and so many ohms at the pole:
// unrounded. Without top the first gain is that of the amplifier, whatever is asked.
func DesignTapped(gains []float64, top bool, amplifier, stringOhm, poleOhm float64) []float64 {
	var v []float64
	above := stringOhm
	for i, g := range gains {
		t := g / amplifier
		low := stringOhm
		if i > 0 || top {
			// t·low² + (pole - t·string)·low - t·string·pole = 0: what the pole's resistor loads
			// the tap with is in it.
			half := (poleOhm - t*stringOhm) / 2
			low = (math.Sqrt(half*half+t*t*stringOhm*poleOhm) - half) / t
			v = append(v, above-low)
		}
		above = low
	}
	return append(v, above)
}

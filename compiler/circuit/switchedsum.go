package circuit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
)

// SwitchedSumName is what held boards and artefacts call the stage of SwitchedSum.
const SwitchedSumName = "switched-sum"

// SwitchedSumDoc is what documentation says of it.
const SwitchedSumDoc = "An inverting amplifier to which a selector adds one of several low-passes, high-passes or band-passes, or none: several shelves and peaks with one op-amp more than there are, and flat."

// network is a filter with one op-amp that a topology adds to the signal through Rb, how it is
// drawn from left to right, and whether it is fed by the output, which makes the reciprocal. Where
// it floats its op-amp's input has no path for the bias current but through what feeds it.
type network struct {
	of               *Topology
	picture          string
	feedback, floats bool
}

// networkOf is the one that makes a section which is 1 without it; nil for none.
func networkOf(s biquad.Analog) *network {
	a, err := Ask(s)
	if err != nil || a.Sign < 0 {
		return nil
	}
	one := func(v float64) bool { return math.Abs(v-1) < same }
	switch low, high := a.N[0], a.N[2]; a.Shape {
	case AllPass2, Notch2, Cut2:
		if one(low) && one(high) {
			return &network{&sumWithBandPass, bandPassPicture, false, false}
		}
	case Boost2:
		if one(low) && one(high) {
			return &network{&bandPassInFeedback, bandPassPicture, true, false}
		}
	case Shift2:
		switch {
		case one(high) && low > 1:
			return &network{&sumWithLowPass, lowPassPicture, false, true}
		case one(high):
			return &network{&lowPassInFeedback, lowPassPicture, true, true}
		case one(low) && high > 1:
			return &network{&sumWithHighPass, highPassPicture, false, false}
		case one(low):
			return &network{&highPassInFeedback, highPassPicture, true, false}
		}
	}
	return nil
}

// SummedOf is the topology that realises a section inside of SwitchedSum, nil for none.
func SummedOf(s biquad.Analog) *Topology {
	if n := networkOf(s); n != nil {
		return n.of
	}
	return nil
}

// SwitchedSum is an inverting amplifier to which a selector adds one of several filters, or none:
// as many shelves and peaks as are asked for, and flat, with one op-amp more than there are
// filters. The contact is at the virtual ground: it carries no voltage, and the amplifier stays
// closed where it is between two positions. It is nil where a section can not be had so.
//
// Parts: those of each filter with its Rb, then Ra and Rf, which are equal.
func SwitchedSum(sections []biquad.Analog) *Switched {
	t := Topology{Name: SwitchedSumName, Source: "node equations",
		Doc: SwitchedSumDoc}
	var networks []*network
	number := map[string]int{}
	for i, s := range sections {
		n := networkOf(s)
		if n == nil {
			return nil
		}
		names := map[string]string{}
		for _, e := range n.of.Template {
			if e.Ref == "Ra" || e.Ref == "Rf" || e.Ref == "U2" {
				continue
			}
			letter := e.Ref[:1]
			number[letter]++
			names[e.Ref] = letter + strconv.Itoa(number[letter])
			e.Ref = names[e.Ref]
			e.Nodes = slices.Clone(e.Nodes)
			for k, node := range e.Nodes {
				switch node {
				case "in", "out", "0":
				case "s":
					e.Nodes[k] = throwOf(i)
				default:
					e.Nodes[k] = node + strconv.Itoa(i+1)
				}
			}
			t.Template = append(t.Template, e)
		}
		networks = append(networks, n)
		t.Layout += n.drawn(names, i)
	}
	last := fmt.Sprintf("U%d", len(sections)+1)
	t.Template = append(t.Template, r("Ra", "in", Pole), r("Rf", Pole, "out"), u(last, "0", Pole, "out"))
	t.Layout += lanes(networks) + sumPicture(len(sections), last)
	var states []State
	for i := range sections {
		states = append(states, t.connected(throwOf(i), networks[i].of, SummedParts(sections, i)))
	}
	flat := t
	flat.Closed = func(v []float64) Ratio {
		return Ratio{Polynomial{-v[len(v)-1]}, Polynomial{v[len(v)-2]}}
	}
	t.Closed = flat.Closed
	return t.switched(append(states, State{&flat, ""})...)
}

// throwOf is the node of a network's Rb that the selector connects with the pole.
func throwOf(i int) string { return fmt.Sprintf("t%d", i+1) }

// connected is the state in which a throw is connected with the pole: in closed form the topology
// that its network comes from.
func (t Topology) connected(throw string, of *Topology, own []int) State {
	t.Template = slices.Clone(t.Template)
	for i, e := range t.Template {
		if p := slices.Index(e.Nodes, throw); p >= 0 {
			t.Template[i].Nodes = slices.Clone(e.Nodes)
			t.Template[i].Nodes[p] = Pole
		}
	}
	t.Closed = func(v []float64) Ratio {
		w := make([]float64, len(own))
		for i, k := range own {
			w[i] = v[k]
		}
		return of.Closed(w)
	}
	return State{&t, throw}
}

// SummedParts are the places of the i-th section's parts among those of SwitchedSum, in the order
// of SummedOf's.
func SummedParts(sections []biquad.Analog, i int) []int {
	n := networkOf(sections[i])
	first := 0
	for _, s := range sections[:i] {
		first += len(networkOf(s).of.Parts()) - 2
	}
	all := first
	for _, s := range sections[i:] {
		all += len(networkOf(s).of.Parts()) - 2
	}
	var out []int
	for _, e := range n.of.Parts() {
		switch e.Ref {
		case "Ra":
			out = append(out, all)
		case "Rf":
			out = append(out, all+1)
		default:
			out = append(out, first)
			first++
		}
	}
	return out
}

const (
	// How a switched sum is drawn: rows of networks, rowPitch apart, behind the lanes that feed
	// them, their Rb behind them.
	rowPitch, rowX, rowEnd = 38, 6, 48
	inLane, backLane       = 2, 4
	backY                  = -26
)

// drawn are the lines of one network, in row i.
func (n *network) drawn(names map[string]string, i int) string {
	y := i * rowPitch
	b := names["Rb"]
	return moved(n.picture, rowX, y, names) + fmt.Sprintf("%s > 45,%d\nwire 39,%d %s.1\ntap %s %d,%d\n", b, y, y, b, throwOf(i), rowEnd, y)
}

// lanes are the wires from the stage's input and output to its networks.
func lanes(networks []*network) string {
	out := "wire in 1,0\n"
	x, y := 1, 0 // where the input's lane has come to
	back := fmt.Sprintf("wire %d,-6 ,%d %d,", sumX(len(networks))+12, backY, backLane)
	fed := false
	for i, n := range networks {
		at := i * rowPitch
		switch {
		case n.feedback && !fed:
			out += fmt.Sprintf("%s ,%d %d,\n", back, at, rowX)
			back, fed = fmt.Sprintf("wire %d,%d", backLane, at), true
		case n.feedback:
			out += fmt.Sprintf("%s ,%d %d,\n", back, at, rowX)
			back = fmt.Sprintf("wire %d,%d", backLane, at)
		default:
			if x != inLane {
				out += fmt.Sprintf("wire %d,0 %d,\n", x, inLane)
				x = inLane
			}
			if at > y {
				out += fmt.Sprintf("wire %d,%d ,%d\n", x, y, at)
			}
			out += fmt.Sprintf("wire %d,%d %d,\n", x, at, rowX)
			y = at
		}
	}
	return out
}

// sumX is where the lane of the virtual ground stands behind a selector of so many throws.
func sumX(throws int) int { return rowEnd + throws + 20 }

// sumPicture is the summing amplifier behind the selector.
func sumPicture(throws int, amp string) string {
	x := sumX(throws)
	return fmt.Sprintf("pole %d,0\nRa > 39,-19\n%s %d,2\nRf > %d,-6\nout %d,0\nwire %d,0 %s-\nplus %s\n", x-3, amp, x+6, x+6, x+14, x-3, amp, amp) +
		fmt.Sprintf("wire 1,0 ,-19 Ra.1\nwire Ra.2 %d, ,-6 Rf.1\nwire %d,-6 ,0\nwire Rf.2 %d, ,2 %so\nwire %d,0 out\n", x, x, x+12, amp, x+12)
}

// moved are the lines of a picture somewhere else, with other names for its elements.
func moved(picture string, dx, dy int, names map[string]string) string {
	var out strings.Builder
	for line := range strings.Lines(picture) {
		words := strings.Fields(line)
		for i, w := range words {
			words[i] = movedWord(w, dx, dy, names)
		}
		out.WriteString(strings.Join(words, " ") + "\n")
	}
	return out.String()
}

// movedWord is one word of a line: a place, a pin, an element, or anything else.
func movedWord(w string, dx, dy int, names map[string]string) string {
	if w == "in" {
		return fmt.Sprintf("%d,%d", dx, dy)
	}
	if x, y, ok := strings.Cut(w, ","); ok {
		shift := func(s string, by int) string {
			if n, err := strconv.Atoi(s); err == nil {
				return strconv.Itoa(n + by)
			}
			return s
		}
		return shift(x, dx) + "," + shift(y, dy)
	}
	ref := strings.TrimRight(strings.Split(w, ".")[0], "+-o")
	if to, ok := names[ref]; ok {
		return to + strings.TrimPrefix(w, ref)
	}
	return w
}

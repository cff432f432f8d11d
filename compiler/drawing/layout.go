package drawing

import (
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// stage is the picture of a stage, drawn as its topology's Layout has it: lines of
//
//	R1 > 5,0       an element at its middle, its first node on the left; or < ^ v
//	U1 16,2        an op-amp; turned has its inputs on the right, + above -
//	out 24,0       where the signal leaves; it comes in at 0,0
//	in_n 0,-16     the same of a second input
//	gnd R2.2       the ground's symbol at a pin
//	plus U1        the + input's way to the ground
//	loop U1        the output's way to the - input, around the op-amp
//	wire in R1.1   a wire from place to place, level or upright between them
//	fixed LINE     a line that holds where no selector switches the stage, and
//	switched LINE  where one does
//	contact 8,9 ^  that selector, its pole above its throw; or v: the places Sp and S1
//	tap t1 12,10   where it gets a node of the template, of a stage with many
//	pole 32,0      and where its pole leads to
//
// with places as pins (R1.1, U1+, U1-, U1o), the names in, in_n and out, or coordinates:
// "7,-3", or "7," and ",-3" where the other one is that of the place before. A line that
// names a part that is not fitted is left out.
type stage struct {
	picture
	of     *board.Stage
	refs   map[string]string  // of the template's elements that are fitted
	values map[string]float64 // of the template's resistors and capacitors
	nodes  map[string][]string
	places map[string]Point
	units  map[string]unit // of op-amps, by reference
	// position is that of a switched stage, taps where its selector gets nodes of the board.
	position *board.Position
	taps     map[string]Point
	drawer   *drawer
}

// unit is which op-amp of which package.
type unit struct {
	of        string
	at, count int
}

// stage draws a stage; its signal comes in at 0,0 and leaves at out. p is the position
// whose selector switches it, nil for none.
func (d *drawer) stage(of *board.Stage, p *board.Position) (*stage, error) {
	s := &stage{of: of, position: p, drawer: d, taps: map[string]Point{}, refs: map[string]string{}, values: map[string]float64{}, nodes: map[string][]string{},
		places: map[string]Point{"in": {}}, units: d.units}
	placed := of.Placed()
	for i, e := range of.Topology.Template {
		if of.Refs[i] == "" {
			s.refs[e.Ref] = ""
			continue
		}
		s.refs[e.Ref], s.values[e.Ref] = placed[0].Ref, placed[0].Value
		placed = placed[1:]
		for _, n := range e.Nodes {
			s.nodes[e.Ref] = append(s.nodes[e.Ref], of.Node(n))
		}
	}
	for _, wires := range []bool{false, true} {
		for line := range strings.Lines(of.Topology.Layout) {
			words := strings.Fields(line)
			if len(words) > 0 && (words[0] == "fixed" || words[0] == "switched") {
				if (words[0] == "switched") != (p != nil) {
					continue
				}
				words = words[1:]
			}
			if len(words) == 0 || connects[words[0]] != wires {
				continue
			}
			if err := s.line(words); err != nil {
				return nil, fmt.Errorf("drawing: the layout of %s: %q: %w", of.Topology.Name, strings.TrimSpace(line), err)
			}
		}
	}
	if _, ok := s.places["out"]; !ok {
		return nil, fmt.Errorf("drawing: the layout of %s has no out", of.Topology.Name)
	}
	return s, nil
}

// connects are the first words of the lines that come after all places are known.
var connects = map[string]bool{"gnd": true, "plus": true, "loop": true, "wire": true}

// line reads one line of a layout.
func (s *stage) line(words []string) error {
	for _, w := range words {
		name := strings.TrimRight(strings.Split(w, ".")[0], "+-o")
		if ref, known := s.refs[name]; known && ref == "" {
			return nil // not fitted
		}
	}
	var places []Point
	last := Point{}
	for _, w := range words[1:] {
		if words[0] == "tap" && w == words[1] {
			continue
		}
		if _, direction := turns[w]; direction || w == "turned" {
			continue
		}
		if _, element := s.refs[w]; element {
			continue
		}
		at, err := s.place(w, last)
		if err != nil {
			return err
		}
		places, last = append(places, at), at
	}
	switch words[0] {
	case "in_n", "out":
		s.places[words[0]] = places[0]
	case "gnd":
		for _, at := range places {
			s.ground(at)
		}
	case "plus":
		at := s.places[words[1]+"+"]
		foot := plus(at, Point{-1, 1})
		s.path(at, plus(at, Point{-1, 0}), foot)
		s.ground(foot)
	case "loop":
		s.loop(words[1])
	case "tap":
		s.taps[s.of.Node(words[1])] = places[0]
	case "pole":
		s.places["pole"] = places[0]
	case "contact":
		s.contact(places[0], turns[words[len(words)-1]])
	case "wire":
		for i := 1; i < len(places); i++ {
			if places[i].X != places[i-1].X && places[i].Y != places[i-1].Y {
				return fmt.Errorf("%s and %s are neither level nor upright", words[i], words[i+1])
			}
		}
		s.path(places...)
	default:
		return s.element(words[0], words[1], words[len(words)-1], places[0])
	}
	return nil
}

// contact places the selector of a switched stage.
func (s *stage) contact(at Point, turn int) {
	pins := s.drawer.selector(&s.picture, s.position, at, turn).Pins
	last := len(pins) - 1
	s.path(pins[0].At, pins[last-1].At)
	s.places["S1"], s.places["Sp"] = pins[0].At, pins[last].At
}

// loop leads an op-amp's output to its - input, outside of its corner.
func (s *stage) loop(ref string) {
	minus, out := s.places[ref+"-"], s.places[ref+"o"]
	right := 1
	if out.X < minus.X {
		right = -1
	}
	over := out.Y - 6
	if minus.Y > out.Y {
		over = out.Y + 6
	}
	s.path(minus, plus(minus, Point{-right, 0}), Point{minus.X - right, over}, Point{out.X + right, over}, plus(out, Point{right, 0}), out)
}

// turns of the signs that say where an element's first node is.
var turns = map[string]int{">": 0, "v": 1, "<": 2, "^": 3}

// element places one.
func (s *stage) element(name, turn, last string, at Point) error {
	ref, known := s.refs[name]
	if !known {
		return fmt.Errorf("the template has no %s", name)
	}
	e := elementOf(s.of.Topology, name)
	if e.Kind == netlist.Amplifier {
		u := s.units[ref]
		x := Symbol{Kind: OpAmp, Ref: ref, Package: u.of, Unit: u.at, Units: u.count, At: at}
		if last == "turned" {
			x.Turn = 2
		} else if last == "<" {
			x.Mirror = true
		}
		placed := s.symbol(x, s.nodes[name]...)
		for i, sign := range []string{"+", "-", "o"} {
			s.places[name+sign] = placed.Pins[i].At
		}
		return nil
	}
	x, err := valued(e.Kind, ref, s.values[name])
	if err != nil {
		return err
	}
	if _, ok := turns[turn]; !ok {
		return fmt.Errorf("%s is no direction", turn)
	}
	x.At, x.Turn = at, turns[turn]
	placed := s.symbol(x, s.nodes[name]...)
	for i := range placed.Pins {
		s.places[fmt.Sprintf("%s.%d", name, i+1)] = placed.Pins[i].At
	}
	return nil
}

func elementOf(t *circuit.Topology, ref string) circuit.Element {
	for _, e := range t.Template {
		if e.Ref == ref {
			return e
		}
	}
	return circuit.Element{}
}

// place is where a word points.
func (s *stage) place(w string, last Point) (Point, error) {
	if at, ok := s.places[w]; ok {
		return at, nil
	}
	x, y, ok := strings.Cut(w, ",")
	if !ok {
		return Point{}, fmt.Errorf("%s is no place", w)
	}
	at := last
	for _, c := range []struct {
		text string
		to   *int
	}{{x, &at.X}, {y, &at.Y}} {
		if c.text == "" {
			continue
		}
		n, err := strconv.Atoi(c.text)
		if err != nil {
			return Point{}, fmt.Errorf("%s is no place", w)
		}
		*c.to = n
	}
	return at, nil
}

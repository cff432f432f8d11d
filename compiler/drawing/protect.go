package drawing

import (
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// device draws what protects or mutes at the ladder's node.
func (l *ladder) device(e *board.Part) {
	l.border(e)
	switch e.Kind {
	case netlist.Diode:
		l.clamp(e)
	case netlist.Contact:
		l.relay(e)
	case netlist.Transistor:
		l.transistor(e)
	}
}

// clamp draws a diode that leads to the positive rail above or from the negative one below,
// the second half under the first.
func (l *ladder) clamp(e *board.Part) {
	column := l.x + 2
	if l.clamped {
		column = l.x - 8
	} else {
		l.path(Point{l.x, 0}, Point{l.x + 12, 0})
		l.x += 12
	}
	l.clamped = !l.clamped
	s := Symbol{Kind: Diode, Ref: e.Ref, At: Point{column, -4}, Turn: 3}
	kind, end := RailPlus, Point{column, -7}
	if e.A != l.node {
		s.At.Y, kind, end = 4, RailMinus, Point{column, 7}
	}
	pins := l.symbol(s, e.A, e.B).Pins
	near := pins[0].At
	if e.A != l.node {
		near = pins[1].At
	}
	l.path(Point{column, 0}, near)
	l.drawer.rail(&l.picture, kind, end)
}

// relay draws a contact between the line and the ground, its coil, and the diode across
// that.
func (l *ladder) relay(e *board.Part) {
	x := l.x + 2
	s := Symbol{Kind: Relay, Ref: e.Ref, Value: words.Part(netlist.CoilV, "V"), At: Point{x, 8}}
	pins := l.symbol(s, e.A, e.B, e.Control, "0").Pins
	l.path(Point{l.x, 0}, Point{x, 0}, pins[0].At)
	l.ground(pins[1].At)
	l.ground(pins[3].At)
	coil, end := pins[2].At, Point{x + 16, 3}
	l.path(coil, Point{coil.X, 3}, end)
	for i := range l.parts {
		f := &l.parts[i]
		if f.Use != board.Flyback {
			continue
		}
		pins = l.symbol(Symbol{Kind: Diode, Ref: f.Ref, At: Point{x + 14, 8}, Turn: 3}, f.A, f.B).Pins
		l.ground(pins[0].At)
		l.path(pins[1].At, Point{x + 14, 3})
	}
	l.labels = append(l.labels, Label{Kind: Port, At: end, Node: e.Control})
	l.path(Point{x, 0}, Point{x + 24, 0})
	l.x = x + 24
}

// gateRow is the height of the line to the transistors' gates.
const gateRow = 13

// transistor draws one between the line and the ground. The first has the resistor to its
// gate beside it; the next share that.
func (l *ladder) transistor(e *board.Part) {
	x := max(l.x+8, 21)
	pins := l.symbol(Symbol{Kind: Transistor, Ref: e.Ref, At: Point{x, 4}}, e.A, e.Control, e.B).Pins
	l.path(Point{l.x, 0}, Point{x, 0}, pins[0].At)
	l.ground(pins[2].At)
	foot := Point{pins[1].At.X, gateRow}
	l.path(pins[1].At, foot)
	if l.gate != nil {
		l.path(*l.gate, foot)
	}
	for i := range l.parts {
		g := &l.parts[i]
		if l.gate != nil || g.Use != board.Gate {
			continue
		}
		s, _ := part(g)
		s.At = Point{foot.X - 5, gateRow}
		ends := l.symbol(s, g.A, g.B).Pins
		l.path(ends[1].At, foot)
		at := plus(ends[0].At, Point{-1, 0})
		l.path(at, ends[0].At)
		l.labels = append(l.labels, Label{Kind: Port, At: at, Node: g.A, Turn: 2})
	}
	l.gate = &foot
	l.path(Point{x, 0}, Point{x + 8, 0})
	l.x = x + 8
}

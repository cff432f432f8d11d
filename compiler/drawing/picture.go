package drawing

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// picture is a piece of a sheet with a place of its own for 0,0.
type picture struct {
	symbols []Symbol
	wires   []Wire // not yet divided where others end on them, and without nodes
	labels  []Label
	texts   []Text
}

// add puts another picture into this one, its 0,0 at a place.
func (p *picture) add(q *picture, at Point) {
	p.symbols, p.wires = slices.Grow(p.symbols, len(q.symbols)), slices.Grow(p.wires, len(q.wires))
	for _, s := range q.symbols {
		s.At = plus(s.At, at)
		s.RefAt.At, s.ValueAt.At = moved(s.RefAt.At, at), moved(s.ValueAt.At, at)
		s.Pins = append([]Pin(nil), s.Pins...)
		for i := range s.Pins {
			s.Pins[i].At = plus(s.Pins[i].At, at)
		}
		p.symbols = append(p.symbols, s)
	}
	for _, w := range q.wires {
		p.wires = append(p.wires, Wire{From: plus(w.From, at), To: plus(w.To, at)})
	}
	for _, l := range q.labels {
		l.At = plus(l.At, at)
		p.labels = append(p.labels, l)
	}
	for _, t := range q.texts {
		t.At = moved(t.At, at)
		p.texts = append(p.texts, t)
	}
}

func plus(a, b Point) Point       { return Point{a.X + b.X, a.Y + b.Y} }
func fine(a Point) Fine           { return Fine{10 * a.X, 10 * a.Y} }
func moved(f Fine, by Point) Fine { return Fine{f.X + 10*by.X, f.Y + 10*by.Y} }

// path adds wires from point to point.
func (p *picture) path(at ...Point) {
	for i := 1; i < len(at); i++ {
		if at[i] != at[i-1] {
			p.wires = append(p.wires, Wire{From: at[i-1], To: at[i]})
		}
	}
}

// symbol adds a symbol with the nodes of its pins in the order of its shape, and its
// texts where such a symbol has them.
func (p *picture) symbol(s Symbol, nodes ...string) *Symbol {
	for i, pin := range s.Shape().Pins {
		f := s.Place(fine(pin.At))
		s.Pins = append(s.Pins, Pin{pin.Number, pin.Name, nodes[i], Point{f.X / 10, f.Y / 10}})
	}
	s.write()
	p.symbols = append(p.symbols, s)
	return &p.symbols[len(p.symbols)-1]
}

// ground puts the ground's symbol on a wire's end or a pin.
func (p *picture) ground(at Point) { p.symbol(Symbol{Kind: Ground, At: at}, "0") }

// write places the texts: an op-amp's reference inside of it, others' above and the
// value below, or both beside what stands upright.
func (s *Symbol) write() {
	at := fine(s.At)
	text := func(words string, x, y int, a Anchor) Text {
		return Text{At: Fine{at.X + x, at.Y + y}, S: words, Anchor: a}
	}
	body := s.Shape().Body
	switch s.Kind {
	case Ground, RailPlus, RailMinus:
		return
	case OpAmp:
		x := -3
		if s.Mirror != (s.Turn == 2) {
			x = 3
		}
		s.RefAt = text(s.Ref, x, 0, Middle)
	case Terminal:
		s.RefAt, s.ValueAt = text(s.Ref, 0, -46, Middle), text(s.Value, 0, -30, Middle)
	case Selector, SupplyUnit:
		s.beside(text)
	case Relay:
		s.RefAt, s.ValueAt = text(s.Ref, 40, -29, Middle), text(s.Value, 40, 29, Middle)
	case Transistor:
		s.RefAt, s.ValueAt = text(s.Ref, 7, -8, Begin), text(s.Value, 7, 8, Begin)
	default:
		half := max(-body.Min.Y, body.Max.Y)
		if s.Turn%2 == 0 {
			s.RefAt, s.ValueAt = text(s.Ref, 0, -half-10, Middle), text(s.Value, 0, half+11, Middle)
		} else {
			s.RefAt, s.ValueAt = text(s.Ref, half+6, -8, Begin), text(s.Value, half+6, 8, Begin)
		}
	}
}

// besideMost is how many letters of a setting's name stand beside a contact; a longer one
// is left to the list of positions.
const besideMost = 9

// beside places the texts of a selector and of supply pins.
func (s *Symbol) beside(text func(words string, x, y int, a Anchor) Text) {
	body := s.Shape().Body
	switch {
	case s.Kind == SupplyUnit:
		s.RefAt = text(s.Ref, body.Min.X-5, 0, End)
		return
	case s.Turn%2 == 0:
		s.RefAt, s.ValueAt = text(s.Ref, 0, body.Min.Y-8, Middle), text(s.Value, -20, body.Min.Y-24, Begin)
	default: // a contact that stands upright
		x, a := 8, Begin
		if s.Turn == 1 {
			x, a = -8, End
		}
		s.RefAt, s.ValueAt = text(s.Ref, x, 2, a), text(s.Value, x, 18, a)
		if len(s.Value) > besideMost {
			s.ValueAt.S = ""
		}
	}
	s.ValueAt.Size = Small
}

// texts of a symbol that are not empty.
func (s *Symbol) texts() []Text {
	var out []Text
	for _, t := range []Text{s.RefAt, s.ValueAt} {
		if t.S != "" {
			out = append(out, t)
		}
	}
	return out
}

// box is the room that a picture takes.
func (p *picture) box() Box {
	b := Box{Fine{0, 0}, Fine{0, 0}}
	take := func(fs ...Fine) {
		for _, f := range fs {
			b.Min = Fine{min(b.Min.X, f.X), min(b.Min.Y, f.Y)}
			b.Max = Fine{max(b.Max.X, f.X), max(b.Max.Y, f.Y)}
		}
	}
	for _, s := range p.symbols {
		body := s.Body()
		take(body.Min, body.Max)
		for _, t := range s.texts() {
			take(t.Box().Min, t.Box().Max)
		}
	}
	for _, w := range p.wires {
		take(fine(w.From), fine(w.To))
	}
	for _, t := range p.texts {
		take(t.Box().Min, t.Box().Max)
	}
	return b
}

// code is a value in the letter code of IEC 60062, with u for micro: 4n7, 2k05, 100R.
func code(x float64, unit string) string {
	number, with, _ := strings.Cut(words.Stock(x, unit), " ")
	letter := strings.TrimSuffix(with, unit)
	if letter == "" {
		letter = map[string]string{"ohm": "R", "F": "F"}[unit]
	}
	whole, part, _ := strings.Cut(number, ".")
	return whole + letter + part
}

// valued is a symbol for a resistor or capacitor with its value.
func valued(kind netlist.Kind, ref string, x float64) (Symbol, error) {
	switch kind {
	case netlist.Resistor:
		return Symbol{Kind: Resistor, Ref: ref, Value: code(x, "ohm"), Amount: x}, nil
	case netlist.Capacitor:
		return Symbol{Kind: Capacitor, Ref: ref, Value: code(x, "F"), Amount: x}, nil
	}
	return Symbol{}, fmt.Errorf("drawing: %s has no symbol", ref)
}

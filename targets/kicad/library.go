package kicad

import (
	"fmt"
	"slices"
	"strconv"

	"bandwright/compiler/drawing"
)

// Symbols stand inside each file, drawn as package drawing has them. An op-amp's unit
// is the same symbol as often as the package has op-amps, with the package's pins, and
// its supply pins are one unit more.

// pinout is which pins of a package the op-amps and the supply have.
type pinout struct {
	amps        [][3]int // of each op-amp +, -, output
	plus, minus int
}

// pinouts are those that nearly all op-amps in packages of eight and fourteen pins
// have, by how many op-amps there are in one. With three, one of four is left out.
var pinouts = map[int]pinout{
	1: {amps: [][3]int{{3, 2, 6}}, plus: 7, minus: 4},
	2: {amps: [][3]int{{3, 2, 1}, {5, 6, 7}}, plus: 8, minus: 4},
	3: {amps: [][3]int{{3, 2, 1}, {5, 6, 7}, {10, 9, 8}}, plus: 4, minus: 11},
	4: {amps: [][3]int{{3, 2, 1}, {5, 6, 7}, {10, 9, 8}, {12, 13, 14}}, plus: 4, minus: 11},
}

// library is the name before those of symbols, of no library that anyone has.
const library = "bandwright:"

// entry is one symbol of a file's library.
type entry struct {
	name  string
	units []drawing.Shape
	mark  bool // it stands for a rail or the ground, and is no part
	apart bool // it is not on the board, and drawn with dashes
}

// entryOf is the library's symbol that a symbol of the drawing is one unit of, with the
// number of that unit from 1.
func (p *project) entryOf(x *drawing.Symbol) (entry, int) {
	shape := x.Shape()
	switch {
	case x.Kind == drawing.OpAmp:
		return packageOf(x.Units), x.Unit + 1
	case x.Kind == drawing.SupplyUnit:
		return packageOf(x.Units), x.Units + 1
	case x.Kind == drawing.Selector:
		s := p.selectors[x.Ref]
		return s.entry(), s.unit
	case p.feeds[x.Ref]:
		shape.Name += "-supply"
		shape.Pins = slices.Clone(shape.Pins)
		for i := range shape.Pins {
			shape.Pins[i].Role = feeding
		}
	}
	e := entry{name: shape.Name, units: []drawing.Shape{shape}, mark: shape.Letter == "#", apart: x.Outside}
	if e.apart {
		e.name += "-outside"
	}
	return e, 1
}

// feeding is the role of a terminal that the supply comes in at.
const feeding drawing.PinRole = 255

// packageOf is the symbol of a package with n op-amps.
func packageOf(n int) entry {
	e := entry{name: fmt.Sprintf("op-amp-%d", n)}
	for _, numbers := range pinouts[n].amps {
		s := drawing.ShapeOf(drawing.OpAmp, 0)
		e.units = append(e.units, numbered(s, numbers[:]...))
	}
	e.units = append(e.units, numbered(drawing.ShapeOf(drawing.SupplyUnit, 0), pinouts[n].plus, pinouts[n].minus))
	return e
}

// numbered is a shape with other numbers of its pins.
func numbered(s drawing.Shape, numbers ...int) drawing.Shape {
	pins := make([]drawing.ShapePin, len(s.Pins))
	for i, p := range s.Pins {
		p.Number = strconv.Itoa(numbers[i])
		pins[i] = p
	}
	s.Pins = pins
	return s
}

// roles are the words for what a pin does.
var roles = map[drawing.PinRole]string{drawing.Passive: "passive", drawing.Input: "input", drawing.Output: "output", drawing.Supply: "power_in", feeding: "power_out"}

// symbol writes a symbol of the library. Inside of one, y points up.
func (w *writer) symbol(e entry) {
	power, letter := "", e.units[0].Letter
	if e.mark {
		power, letter = "(power) ", "#PWR"
	}
	w.open("symbol %s %s(pin_numbers hide) (pin_names (offset 0.508) hide) (in_bom yes) (on_board yes)", quoted(library+e.name), power)
	w.field(field{name: "Reference", value: letter, hidden: e.mark})
	w.field(field{name: "Value", value: e.name})
	w.field(field{name: "Footprint", hidden: true})
	w.field(field{name: "Datasheet", hidden: true})
	for i, s := range e.units {
		w.open("symbol %s", quoted(fmt.Sprintf("%s_%d_1", e.name, i+1)))
		for _, x := range s.Strokes {
			w.stroke(x, e.apart)
		}
		for _, p := range s.Pins {
			w.pin(p)
		}
		w.end()
	}
	w.end()
}

// stroke is a quarter of a millimetre wide, a fifth of the grid.
func (w *writer) stroke(x drawing.Stroke, dashed bool) {
	fill := "(fill (type none))"
	if x.Filled {
		fill = "(fill (type outline))"
	}
	width := "(stroke (width 0.254) (type default))"
	if dashed {
		width = "(stroke (width 0.1) (type dash))" // a dash is twelve widths long
	}
	if x.Radius > 0 {
		w.line("(circle (center %s) (radius %s) %s %s)", inside(x.Points[0]), tenths(x.Radius), width, fill)
		return
	}
	points := x.Points
	if x.Closed {
		points = append(points[:len(points):len(points)], points[0])
	}
	list := ""
	for _, p := range points {
		list += " (xy " + inside(p) + ")"
	}
	w.line("(polyline (pts%s) %s %s)", list, width, fill)
}

// pin is connected at its place; its line runs to the body.
func (w *writer) pin(p drawing.ShapePin) {
	dx, dy := p.Lead.X-10*p.At.X, p.Lead.Y-10*p.At.Y
	turn, long := 0, dx
	switch {
	case dx < 0:
		turn, long = 180, -dx
	case dy < 0:
		turn, long = 90, -dy
	case dy > 0:
		turn, long = 270, dy
	}
	const letters = "(effects (font (size 1.27 1.27)))"
	w.line("(pin %s line (at %s %d) (length %s) (name %s %s) (number %s %s))", roles[p.Role],
		inside(drawing.Fine{X: 10 * p.At.X, Y: 10 * p.At.Y}), turn, tenths(long), quoted(p.Name), letters, quoted(p.Number), letters)
}

// inside is a place in a symbol.
func inside(p drawing.Fine) string { return tenths(p.X) + " " + tenths(-p.Y) }

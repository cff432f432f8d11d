package drawing

import "fmt"

// SymbolKind is a row of the table of shapes.
type SymbolKind uint8

// The kinds of symbol.
const (
	Resistor SymbolKind = iota
	Capacitor
	Electrolytic
	OpAmp
	SupplyUnit // the supply pins of an op-amp's package
	Selector
	Terminal // where a wire leaves the board
	Ground
	RailPlus
	RailMinus
	Source // of a signal, outside of the board
	Link   // a plain wire that the netlist has as a part
	Diode
	Trimmer
	Relay      // a contact that is closed without current in the coil, beside it
	Transistor // n-channel, depletion mode
	kinds
)

// PinRole says what a pin does, for rule checks of other programs.
type PinRole uint8

// The roles of pins.
const (
	Passive PinRole = iota
	Input
	Output
	Supply
)

// ShapePin is a pin of a shape: Lead is where its line meets the body, in tenths.
type ShapePin struct {
	Number, Name string
	At           Point
	Lead         Fine
	Role         PinRole
}

// Stroke is one line of a shape, in tenths of a unit: a run of points, closed and
// filled where it says so, or a circle round its only point.
type Stroke struct {
	Points         []Fine
	Closed, Filled bool
	Radius         int // of a circle, else 0
}

// Shape is how a symbol looks, unturned. Symbols follow IEC 60617, but for the op-amp,
// which is the triangle that analogue schematics are read by: its point shows where the
// signal goes, and the standard's rectangle hides the turns of feedback among frames.
type Shape struct {
	Name    string // one word for libraries of symbols
	Letter  string // that references begin with, "#" of what is no part
	Strokes []Stroke
	Pins    []ShapePin
	Body    Box // of the strokes, without the leads
}

// shapes is the closed table of symbols; a selector grows with its
// number of throws.
var shapes = [kinds]func(n int) Shape{
	Resistor: fixed(Shape{Name: "resistor", Letter: "R", Body: box(-20, -8, 20, 8),
		Strokes: []Stroke{closed(-20, -8, 20, -8, 20, 8, -20, 8)}, Pins: ends(20)}),
	Capacitor: fixed(Shape{Name: "capacitor", Letter: "C", Body: box(-4, -15, 4, 15),
		Strokes: []Stroke{stroke(-4, -15, -4, 15), stroke(4, -15, 4, 15)}, Pins: ends(4)}),
	Electrolytic: fixed(Shape{Name: "electrolytic", Letter: "C", Body: box(-16, -15, 7, 15),
		Strokes: []Stroke{closed(-7, -15, -2, -15, -2, 15, -7, 15), filled(2, -15, 7, -15, 7, 15, 2, 15), stroke(-16, -10, -10, -10), stroke(-13, -13, -13, -7)},
		Pins:    ends(7)}),
	OpAmp: fixed(Shape{Name: "op-amp", Letter: "U", Body: box(-30, -40, 40, 40),
		Strokes: []Stroke{closed(-30, -40, 40, 0, -30, 40), stroke(-27, -20, -19, -20), stroke(-27, 20, -19, 20), stroke(-23, 16, -23, 24)},
		Pins: []ShapePin{
			{"1", "+", Point{-4, 2}, Fine{-30, 20}, Input}, {"2", "-", Point{-4, -2}, Fine{-30, -20}, Input}, {"3", "out", Point{5, 0}, Fine{40, 0}, Output},
		}}),
	SupplyUnit: fixed(Shape{Name: "supply", Letter: "U", Body: box(-20, -30, 20, 30),
		Strokes: []Stroke{closed(-20, -30, 20, -30, 20, 30, -20, 30)},
		Pins:    []ShapePin{{"1", "V+", Point{0, -4}, Fine{0, -30}, Supply}, {"2", "V-", Point{0, 4}, Fine{0, 30}, Supply}}}),
	Selector: selector,
	Terminal: fixed(Shape{Name: "terminal", Letter: "J", Body: box(-4, -18, 4, -10),
		Strokes: []Stroke{circle(0, -14, 4)}, Pins: []ShapePin{{"1", "1", Point{0, 0}, Fine{0, -10}, Passive}}}),
	Ground: fixed(Shape{Name: "ground", Letter: "#", Body: box(-12, 10, 12, 20),
		Strokes: []Stroke{stroke(-12, 10, 12, 10), stroke(-8, 15, 8, 15), stroke(-4, 20, 4, 20)},
		Pins:    []ShapePin{{"1", "0", Point{0, 0}, Fine{0, 10}, Supply}}}),
	RailPlus: fixed(Shape{Name: "rail-plus", Letter: "#", Body: box(-10, -12, 10, -10),
		Strokes: []Stroke{stroke(-10, -10, 10, -10)},
		Pins:    []ShapePin{{"1", "V+", Point{0, 0}, Fine{0, -10}, Supply}}}),
	RailMinus: fixed(Shape{Name: "rail-minus", Letter: "#", Body: box(-10, 10, 10, 12),
		Strokes: []Stroke{stroke(-10, 10, 10, 10)},
		Pins:    []ShapePin{{"1", "V-", Point{0, 0}, Fine{0, 10}, Supply}}}),
	Source: fixed(Shape{Name: "source", Letter: "V", Body: box(-15, -15, 15, 15),
		Strokes: []Stroke{circle(0, 0, 15), stroke(-15, 0, 15, 0)}, Pins: ends(15)}),
	Link: fixed(Shape{Name: "link", Letter: "R", Body: box(-20, -3, 20, 3),
		Strokes: []Stroke{circle(-17, 0, 3), stroke(-14, 0, 14, 0), circle(17, 0, 3)}, Pins: ends(20)}),
	Diode: fixed(Shape{Name: "diode", Letter: "D", Body: box(-10, -10, 10, 10), // pin 1 is the anode
		Strokes: []Stroke{closed(-10, -10, 10, 0, -10, 10), stroke(10, -10, 10, 10)}, Pins: ends(10)}),
	Relay: fixed(Shape{Name: "relay", Letter: "K", Body: box(-10, -20, 92, 20),
		Strokes: []Stroke{stroke(0, 10, 0, 20), stroke(0, -20, 0, -11, 9, -11), stroke(0, 10, 7, -14), stroke(4, 0, 12, 0), stroke(18, 0, 26, 0), stroke(32, 0, 40, 0), stroke(46, 0, 54, 0), stroke(60, 0, 66, 0),
			closed(68, -8, 92, -8, 92, 8, 68, 8), stroke(80, -20, 80, -8), stroke(80, 8, 80, 20), stroke(74, 8, 86, -8)},
		Pins: []ShapePin{{"1", "1", Point{0, -3}, Fine{0, -20}, Passive}, {"2", "2", Point{0, 3}, Fine{0, 20}, Passive},
			{"3", "+", Point{8, -3}, Fine{80, -20}, Passive}, {"4", "-", Point{8, 3}, Fine{80, 20}, Passive}}}),
	Transistor: fixed(Shape{Name: "transistor", Letter: "Q", Body: box(-16, -15, 2, 15),
		Strokes: []Stroke{stroke(-6, -15, -6, 15), stroke(-6, -10, 0, -10), stroke(-6, 10, 0, 10), filled(-15, -4, -7, 0, -15, 4)},
		Pins: []ShapePin{{"1", "drain", Point{0, -3}, Fine{0, -10}, Passive}, {"2", "gate", Point{-4, 0}, Fine{-15, 0}, Passive},
			{"3", "source", Point{0, 3}, Fine{0, 10}, Passive}}}),
	Trimmer: fixed(Shape{Name: "trimmer", Letter: "R", Body: box(-20, -15, 20, 15),
		Strokes: []Stroke{closed(-20, -8, 20, -8, 20, 8, -20, 8), stroke(-15, 15, 13, -13), stroke(9, -15, 17, -11)}, Pins: ends(20)}),
}

func fixed(s Shape) func(int) Shape { return func(int) Shape { return s } }

// ends are the two pins of a part that lies level, pin 1 on the left, with a body that
// reaches so far to either side.
func ends(half int) []ShapePin {
	return []ShapePin{{"1", "1", Point{-3, 0}, Fine{-half, 0}, Passive}, {"2", "2", Point{3, 0}, Fine{half, 0}, Passive}}
}

// pitch is from one throw of a selector to the next.
const pitch = 3

// selector has its throws on the left, one below the other, the first at the level of
// the pole on the right, and the arm at the first.
func selector(n int) Shape {
	s := Shape{Name: fmt.Sprintf("selector-%d", n), Letter: "S"}
	for k := range n {
		y := 10 * pitch * k
		s.Strokes = append(s.Strokes, circle(-17, y, 3))
		s.Pins = append(s.Pins, ShapePin{fmt.Sprint(k + 1), fmt.Sprint(k + 1), Point{-3, pitch * k}, Fine{-20, y}, Passive})
	}
	s.Strokes = append(s.Strokes, circle(17, 0, 3), stroke(14, -1, -13, -7))
	s.Pins = append(s.Pins, ShapePin{fmt.Sprint(n + 1), "pole", Point{3, 0}, Fine{20, 0}, Passive})
	s.Body = box(-20, -8, 20, 10*pitch*(n-1)+4)
	return s
}

func points(xy []int) []Fine {
	var out []Fine
	for i := 0; i < len(xy); i += 2 {
		out = append(out, Fine{xy[i], xy[i+1]})
	}
	return out
}

func stroke(xy ...int) Stroke    { return Stroke{Points: points(xy)} }
func closed(xy ...int) Stroke    { return Stroke{Points: points(xy), Closed: true} }
func filled(xy ...int) Stroke    { return Stroke{Points: points(xy), Closed: true, Filled: true} }
func circle(x, y, r int) Stroke  { return Stroke{Points: []Fine{{x, y}}, Radius: r} }
func box(x1, y1, x2, y2 int) Box { return Box{Fine{x1, y1}, Fine{x2, y2}} }

// ShapeOf is the shape of a kind, with n throws where it is a selector.
func ShapeOf(kind SymbolKind, n int) Shape { return shapes[kind](n) }

// Shape is how the symbol looks, unturned.
func (s *Symbol) Shape() Shape { return ShapeOf(s.Kind, s.N) }

// Place is where a point of the symbol's shape lies on the sheet.
func (s *Symbol) Place(f Fine) Fine {
	f = turned(f, s.Turn, s.Mirror)
	return Fine{10*s.At.X + f.X, 10*s.At.Y + f.Y}
}

// Body is the room of the symbol's strokes on the sheet.
func (s *Symbol) Body() Box {
	b := s.Shape().Body
	p, q := s.Place(b.Min), s.Place(b.Max)
	return Box{Fine{min(p.X, q.X), min(p.Y, q.Y)}, Fine{max(p.X, q.X), max(p.Y, q.Y)}}
}

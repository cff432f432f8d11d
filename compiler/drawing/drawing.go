// Package drawing draws a board: where symbols and wires stand on a schematic's
// sheets, once, for every printer. A board goes in, sheets come out, one for the input
// with the common stages, one a way, and one for the supply.
//
// Each topology has its own picture, drawn by hand, which stands in its file; the
// rules for chains put them side by side: signal from left to right, feedback above,
// ground below, - input above the + input, alternatives one below the other.
//
// The one invariant: what touches on a sheet is connected in the board's netlist, and
// every part of it is drawn once.
//
// Read first: Sheet, Symbol.
package drawing

// GridMM is one unit of every position, in millimetres: 50 mil, the grid that
// schematic editors have. y points down.
const GridMM = 1.27

// Point is a place on a sheet, in units of the grid.
type Point struct{ X, Y int }

// Fine is a place in tenths of a unit of the grid: strokes and texts stand between the
// grid's points, pins and wires never do.
type Fine struct{ X, Y int }

// Box is a rectangle in tenths of a unit of the grid; Min is its upper left corner.
type Box struct{ Min, Max Fine }

// Sheet is one page of a schematic.
type Sheet struct {
	Name  string // of the page, for file names: "common", a way's name, or "supply"
	Title string // what the page shows, in words
	// Way is the name of the way that the page shows, "" for the others.
	Way string
	// Paper is the frame's name such as "A3", or "User" where none is large enough.
	Paper string
	// Size is of the whole paper, with its margins and the title block.
	Size      Point
	Symbols   []Symbol
	Wires     []Wire
	Junctions []Point // where three wires or pins meet
	Labels    []Label
	Texts     []Text
}

// Symbol is a part, or what stands for the ground, a rail or a terminal.
type Symbol struct {
	Kind SymbolKind
	// N is how many throws a selector has; 0 of other kinds.
	N      int
	At     Point
	Turn   int // quarter turns clockwise, 0 to 3, after Mirror
	Mirror bool
	// Ref is the reference in the board's netlist, "" of what is no part: the ground, a
	// rail. An op-amp's is that of its unit, as U101B.
	Ref string
	// Package is the package's reference and Unit the number of the op-amp in it from 0,
	// of op-amps and of the supply pins; Units is how many op-amps it holds.
	Package     string
	Unit, Units int
	// Value is the value as it is drawn, in the code of IEC 60062: 4n7 or 2k05. Amount is
	// the same in ohm, farad or volt, 0 where it has none.
	Value  string
	Amount float64
	Pins   []Pin
	// RefAt and ValueAt are the texts of Ref and Value; their S is "" where there is none.
	RefAt, ValueAt Text
	// Outside is of what is not on the board: the source, the load, a plain wire.
	Outside bool
}

// Pin is one connection of a symbol.
type Pin struct {
	Number, Name string
	Node         string // the netlist's name for the node; "0" is the ground
	At           Point
}

// Wire is one straight piece of wire, level or upright.
type Wire struct {
	From, To Point
	Node     string
}

// LabelKind says how far a label reaches.
type LabelKind uint8

// The kinds of label.
const (
	Local LabelKind = iota // within its sheet, where a row ends and the next begins
	Port                   // from sheet to sheet
)

// Label joins wires that do not touch: all of one node.
type Label struct {
	Kind LabelKind
	At   Point // on the wire's end
	Node string
	// Turn is where the text stands: 0 right of At, 2 left of it.
	Turn int
}

// Anchor is which part of a text its place is.
type Anchor uint8

// The anchors: a text begins, has its middle, or ends there.
const (
	Begin Anchor = iota
	Middle
	End
)

// TextSize is the size of letters.
type TextSize uint8

// The sizes: of references and values, of remarks, of headings.
const (
	Normal TextSize = iota
	Small
	Large
)

// Text is one line of text.
type Text struct {
	At     Fine // half-way up the letters, at the anchor
	S      string
	Anchor Anchor
	Size   TextSize
}

// letters are the heights and, widest guess, widths of one letter in tenths of a unit.
var letters = [...]struct{ height, width int }{Normal: {10, 10}, Small: {9, 8}, Large: {14, 14}}

// Height is the letters' height in tenths of a unit.
func (s TextSize) Height() int { return letters[s].height }

// Box is the room that a text takes at the most.
func (t Text) Box() Box {
	w, h := letters[t.Size].width*len([]rune(t.S)), letters[t.Size].height
	x := t.At.X
	switch t.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return Box{Fine{x, t.At.Y - h/2}, Fine{x + w, t.At.Y + h/2}}
}

// Text is how a label is written, beyond its wire's end.
func (l Label) Text() Text {
	t := Text{At: Fine{10*l.At.X + 9, 10 * l.At.Y}, S: l.Node}
	if l.Turn == 2 {
		t.At.X, t.Anchor = 10*l.At.X-9, End
	}
	return t
}

// Cautions stand at the foot of every sheet.
var Cautions = []string{
	"Calculated, not tested: build, measure and check before a loudspeaker is connected.",
	"Dashed parts are not on the board. Values as in IEC 60062: 4n7 is 4.7 nF, 2k05 is 2.05 kohm. Selectors in position 1, poles of one number (S1A, S1B) are one part; relays without current.",
}

package kicad

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/drawing"
	"bandwright/compiler/words"
)

// version is that of the format: the oldest that has all that is needed, which later
// programs read as well.
const version = 20230121

// sheet writes one file of the drawing.
type sheet struct {
	writer
	*project
	name string // "" of the root
	path string // UUIDs of the sheets that it hangs in, the root's first
}

// id is the UUID of something on this sheet.
func (s *sheet) id(words ...string) string {
	return id(append([]string{s.stem, "sheet " + s.name}, words...)...)
}

// begin writes what every file has first: paper, title block, and the symbols in it.
func (s *sheet) begin(uuid, paper, title string, symbols []entry) {
	s.open("kicad_sch (version %d) (generator bandwright)", version)
	s.line("(uuid %s)", uuid)
	s.line("(paper %s)", paper)
	s.open("title_block")
	s.line("(title %s)", quoted(title))
	s.line("(rev %s)", quoted(s.build.Spec.Revision))
	s.line("(comment 1 %s)", quoted(s.build.Spec.Title))
	s.line("(comment 2 %s)", quoted("spec SHA-256 "+s.build.SHA256))
	s.end()
	s.open("lib_symbols")
	for _, e := range symbols {
		s.symbol(e)
	}
	s.end()
}

// drawn writes a sheet of the drawing.
func (s *sheet) drawn(d *drawing.Sheet) []byte {
	s.begin(s.id("file"), paper(d), d.Title, s.symbolsOf(d))
	for _, p := range d.Junctions {
		s.junction(p)
	}
	for _, w := range d.Wires {
		s.wire(w.From, w.To)
	}
	for _, t := range d.Texts {
		s.text(t)
	}
	for _, l := range d.Labels {
		s.label(l, d.Name)
	}
	for i := range d.Symbols {
		s.place(&d.Symbols[i])
	}
	s.end()
	return []byte(s.writer.text.String())
}

// paper is the name of the paper, or its size.
func paper(d *drawing.Sheet) string {
	if d.Paper == "User" {
		return fmt.Sprintf("%q %s", d.Paper, xy(d.Size))
	}
	return quoted(d.Paper)
}

// symbolsOf is each symbol that the sheet needs, once, by name.
func (s *sheet) symbolsOf(d *drawing.Sheet) []entry {
	var out []entry
	for i := range d.Symbols {
		e, _ := s.entryOf(&d.Symbols[i])
		if !slices.ContainsFunc(out, func(o entry) bool { return o.name == e.name }) {
			out = append(out, e)
		}
	}
	slices.SortFunc(out, func(a, b entry) int { return strings.Compare(a.name, b.name) })
	return out
}

func (s *sheet) wire(from, to drawing.Point) {
	s.line("(wire (pts (xy %s) (xy %s)))", xy(from), xy(to))
}

func (s *sheet) junction(p drawing.Point) {
	s.line("(junction (at %s))", xy(p))
}

func (s *sheet) text(t drawing.Text) {
	s.line("(text %s (at %s 0) %s)", quoted(t.S), xyFine(t.At), effects(t.Size, justified[t.Anchor], false))
}

// justified is how texts stand at their place.
var justified = [...]string{drawing.Begin: "left", drawing.Middle: "", drawing.End: "right"}

// label joins wires of a sheet; one from sheet to sheet is a pin of its box on the root.
func (s *sheet) label(l drawing.Label, on string) {
	turn, justify := 0, "left"
	if l.Turn == 2 {
		turn, justify = 180, "right"
	}
	kind, shape := "label", ""
	switch {
	case l.Kind == drawing.Local:
		justify += " bottom"
	case s.from[l.Node] == on:
		kind, shape = "hierarchical_label", " (shape output)"
	default:
		kind, shape = "hierarchical_label", " (shape input)"
	}
	s.line("(%s %s%s (at %s %d) %s)", kind, quoted(l.Node), shape, xy(l.At), turn, effects(drawing.Normal, justify, false))
}

// place writes a symbol.
func (s *sheet) place(x *drawing.Symbol) {
	e, unit := s.entryOf(x)
	ref := x.Ref
	switch {
	case e.mark:
		s.marks++
		ref = fmt.Sprintf("#PWR%03d", s.marks)
	case x.Package != "":
		ref = x.Package
	case x.Kind == drawing.Selector:
		ref = s.selectors[x.Ref].of.Ref
	case s.sources[x.Pins[0].Node].ref != "" && x.Kind == drawing.Source:
		ref = s.sources[x.Pins[0].Node].ref
	}
	value := x.Value
	switch {
	case x.Package != "":
		value = words.Part(s.build.Board.OpAmp.GainBandwidthHz, "Hz") + " op-amp"
	case x.Kind == drawing.Ground:
		value = "GND"
	case e.mark:
		value = strings.ReplaceAll(value, " ", "") // the net's name
	case value == "":
		value = e.name
	}
	mine := s.id(ref, fmt.Sprint(unit))
	if !e.mark {
		mine = id(s.stem, ref, fmt.Sprint(unit)) // wherever it is drawn
	}
	// The terminals are on the board, and not in the parts list.
	list, layout := "yes", "yes"
	if e.apart {
		layout = "no"
	}
	if x.Outside || x.Kind == drawing.Terminal {
		list = "no"
	}
	mirror := ""
	if x.Mirror {
		mirror = " (mirror y)"
	}
	s.open("symbol (lib_id %s) (at %s %d)%s (unit %d) (in_bom %s) (on_board %s) (uuid %s)",
		quoted(library+e.name), xy(x.At), turnOf(x), mirror, unit, list, layout, mine)
	s.field(shown("Reference", ref, x, x.RefAt, e.mark))
	s.field(shown("Value", value, x, x.ValueAt, false))
	if !e.mark {
		for _, c := range s.fields(x) {
			s.field(field{name: c.name, value: c.text, at: drawing.Fine{X: 10 * x.At.X, Y: 10 * x.At.Y}, hidden: true})
		}
	}
	s.line("(instances (project %s (path %s (reference %s) (unit %d))))", quoted(s.stem), quoted(s.path), quoted(ref), unit)
	s.end()
}

// turnOf is how far a symbol is turned, in degrees counterclockwise. The format turns
// first and mirrors then.
func turnOf(x *drawing.Symbol) int {
	turn := 90 * (4 - x.Turn) % 360
	if x.Mirror {
		turn = 90 * x.Turn % 360
	}
	return turn
}

// shown is a field where the drawing has it. Its turn and which side it is written to
// count from the symbol's.
func shown(name, value string, x *drawing.Symbol, t drawing.Text, hidden bool) field {
	f := field{name: name, value: value, at: t.At, size: t.Size, hidden: hidden || t.S == ""}
	if f.hidden {
		f.at = drawing.Fine{X: 10 * x.At.X, Y: 10 * x.At.Y}
	}
	turn := turnOf(x)
	if turn%180 != 0 {
		f.turn = 90
	}
	anchor := t.Anchor
	back := turn == 90 || turn == 180
	if x.Mirror {
		back = !back
	}
	if back && anchor != drawing.Middle {
		anchor = drawing.End - anchor
	}
	f.justify = justified[anchor]
	return f
}

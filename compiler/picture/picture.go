// Package picture prints sheets of a schematic as SVG: what compiler/drawing placed goes in,
// pictures come out. The one invariant: it prints what was placed and moves nothing.
//
// Read first: Sheets.
package picture

import (
	"encoding/xml"
	"fmt"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/drawing"
	"bandwright/compiler/words"
)

// Sheet is one page of a board's schematic.
type Sheet struct {
	Name, Title string // of the sheet: "common", and in words
	SVG         []byte
}

// Sheets is the schematic of a build's board, the input with the common stages first, then a page a
// way and one of the supply; nothing where the spec has no board.
func Sheets(b *compiler.Build) ([]Sheet, error) {
	if b.Board == nil {
		return nil, nil
	}
	sheets, err := drawing.Draw(b.Board, b.Settings)
	if err != nil {
		return nil, err
	}
	var out []Sheet
	for i := range sheets {
		p := page{sheet: &sheets[i], build: b, number: i + 1, of: len(sheets)}
		p.print()
		out = append(out, Sheet{sheets[i].Name, sheets[i].Title, []byte(p.text.String())})
	}
	return out, nil
}

// style is the look: dark ink on white, wires thinner than symbols, remarks paler.
const style = `svg{background:#fff}
.paper{fill:#fff}
.frame,.s,.w{fill:none;stroke:#111;stroke-width:2;stroke-linecap:round;stroke-linejoin:round}
.frame{stroke-width:2.5}
.w{stroke:#1d4e5f;stroke-width:1.6}
.b{fill:#fff}
.f{fill:#111}
.j{fill:#1d4e5f}
.o{stroke-dasharray:5 4;stroke:#555}
.p{fill:#f3ead2;stroke:#6b5210;stroke-width:1.6}
text{font-family:"Helvetica Neue",Arial,"Liberation Sans",sans-serif;font-size:14px;fill:#111}
.r{fill:#5a5a5a;font-size:11.2px}
.h{font-size:19.6px;font-weight:bold}
.v{fill:#7a2e12}
`

// page is one sheet being printed.
type page struct {
	sheet      *drawing.Sheet
	build      *compiler.Build
	number, of int
	text       strings.Builder
}

func (p *page) line(format string, args ...any) { fmt.Fprintf(&p.text, format+"\n", args...) }

// print writes the page. Its unit is a tenth of the grid's.
func (p *page) print() {
	w, h := 10*p.sheet.Size.X, 10*p.sheet.Size.Y
	mm := func(tenths int) string { return words.Exact(float64(tenths) * 127 / 1000) }
	p.line(`<?xml version="1.0" encoding="UTF-8"?>`)
	p.line(`<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %d %d">`, mm(w), mm(h), w, h)
	p.line("<title>%s</title>", escaped(p.build.Spec.Name+", "+p.sheet.Title))
	p.line("<style>%s</style>", style)
	p.line(`<rect class="paper" width="%d" height="%d"/>`, w, h)
	p.frame()
	for _, x := range p.sheet.Wires {
		p.line(`<path class="w" d="M%d %dL%d %d"/>`, 10*x.From.X, 10*x.From.Y, 10*x.To.X, 10*x.To.Y)
	}
	for _, at := range p.sheet.Junctions {
		p.line(`<circle class="j" cx="%d" cy="%d" r="4"/>`, 10*at.X, 10*at.Y)
	}
	for i := range p.sheet.Symbols {
		p.symbol(&p.sheet.Symbols[i])
	}
	for _, l := range p.sheet.Labels {
		p.label(l)
	}
	for _, t := range p.sheet.Texts {
		p.words(t, "")
	}
	p.line("</svg>")
}

// symbol prints leads, strokes and texts.
func (p *page) symbol(s *drawing.Symbol) {
	shape := s.Shape()
	also := ""
	if s.Outside {
		also = " o"
	}
	for _, pin := range shape.Pins {
		at := s.Place(drawing.Fine{X: 10 * pin.At.X, Y: 10 * pin.At.Y})
		lead := s.Place(pin.Lead)
		p.line(`<path class="s%s" d="M%d %dL%d %d"/>`, also, at.X, at.Y, lead.X, lead.Y)
	}
	for _, k := range shape.Strokes {
		class := "s"
		switch {
		case k.Filled:
			class = "s f"
		case k.Closed || k.Radius > 0:
			class = "s b"
		}
		if k.Radius > 0 {
			at := s.Place(k.Points[0])
			p.line(`<circle class="%s%s" cx="%d" cy="%d" r="%d"/>`, class, also, at.X, at.Y, k.Radius)
			continue
		}
		d := ""
		for i, f := range k.Points {
			at := s.Place(f)
			d += fmt.Sprintf("%c%d %d", "ML"[min(i, 1)], at.X, at.Y)
		}
		if k.Closed {
			d += "Z"
		}
		p.line(`<path class="%s%s" d="%s"/>`, class, also, d)
	}
	p.words(s.RefAt, "")
	p.words(s.ValueAt, "v")
}

// label prints a node's name: in a flag from sheet to sheet, else plain.
func (p *page) label(l drawing.Label) {
	t := l.Text()
	if l.Kind == drawing.Port {
		b := t.Box()
		x, y := 10*l.At.X, 10*l.At.Y
		far, near := b.Max.X+4, 6
		if l.Turn == 2 {
			far, near = b.Min.X-4, -6
		}
		p.line(`<path class="p" d="M%d %dL%d %dL%d %dL%d %dL%d %dZ"/>`, x, y, x+near, y-9, far, y-9, far, y+9, x+near, y+9)
	}
	p.words(t, "")
}

var anchors = [...]string{drawing.Begin: "start", drawing.Middle: "middle", drawing.End: "end"}

var sizes = [...]string{drawing.Normal: "", drawing.Small: "r", drawing.Large: "h"}

// words prints a text: its place is half-way up the letters.
func (p *page) words(t drawing.Text, class string) {
	if t.S == "" {
		return
	}
	if class = strings.TrimSpace(sizes[t.Size] + " " + class); class != "" {
		class = ` class="` + class + `"`
	}
	anchor := ""
	if t.Anchor != drawing.Begin {
		anchor = ` text-anchor="` + anchors[t.Anchor] + `"`
	}
	p.line(`<text x="%d" y="%d"%s%s>%s</text>`, t.At.X, t.At.Y+t.Size.Height()/2, class, anchor, escaped(t.S))
}

// frame prints the frame and the title block.
func (p *page) frame() {
	const m, high, wide = 10 * drawing.Margin, 10 * drawing.TitleHeight, 10 * drawing.TitleWidth
	w, h := 10*p.sheet.Size.X, 10*p.sheet.Size.Y
	p.line(`<rect class="frame" x="%d" y="%d" width="%d" height="%d"/>`, m, m, w-2*m, h-2*m)
	x, y := w-m-wide, h-m-high
	p.line(`<rect class="frame" x="%d" y="%d" width="%d" height="%d"/>`, x, y, wide, high)
	s := p.build.Spec
	rows := []drawing.Text{
		{S: words.Cut(s.Name+": "+p.sheet.Title, 60), Size: drawing.Large},
		{S: words.Cut(s.Title, 84)},
		{S: "revision " + s.Revision},
		{S: "spec SHA-256 " + p.build.SHA256, Size: drawing.Small},
		{S: fmt.Sprintf("sheet %d of %d", p.number, p.of)},
	}
	const row = high / 5
	for i, t := range rows {
		t.At = drawing.Fine{X: x + 20, Y: y + row*i + row/2}
		p.words(t, "")
		if i > 0 {
			p.line(`<path class="s" d="M%d %dH%d"/>`, x, y+i*row, x+wide)
		}
	}
	for i, c := range drawing.Cautions {
		p.words(drawing.Text{At: drawing.Fine{X: m + 20, Y: h - m - 20 - 18*(len(drawing.Cautions)-1-i)}, S: c, Size: drawing.Small}, "")
	}
}

func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}

package kicad

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/drawing"
	"bandwright/compiler/words"
)

// The root has a box for each sheet: those that nothing goes into on the left, the
// others to the right of them, and between them an upright wire for each node that goes
// from sheet to sheet.

// box is a sheet's place on the root, in steps of the grid.
type box struct {
	sheet      *drawing.Sheet
	at         drawing.Point // upper left corner
	size       drawing.Point
	in, out    []string // nodes
	page       int
	uuid, file string
}

const (
	boxWidth = 30
	leftX    = 20
	topY     = 20
	laneStep = 4
)

// inAt and outAt are the places of pins. Those on the left lie between those on the
// right, so that no two level wires meet.
func (b *box) inAt(i int) drawing.Point { return drawing.Point{X: b.at.X, Y: b.at.Y + 4 + 4*i} }
func (b *box) outAt(i int) drawing.Point {
	return drawing.Point{X: b.at.X + b.size.X, Y: b.at.Y + 6 + 4*i}
}

// boxes puts the sheets side by side.
func (p *project) boxes(sheets []drawing.Sheet) (out []box, nodes []string) {
	for i := range sheets {
		d := &sheets[i]
		b := box{sheet: d, page: i + 2, uuid: id(p.stem, "sheet", d.Name), file: p.file(d.Name)}
		for _, l := range d.Labels {
			list := &b.in
			if p.from[l.Node] == d.Name {
				list = &b.out
			}
			if l.Kind == drawing.Port && !slices.Contains(*list, l.Node) {
				*list = append(*list, l.Node)
			}
		}
		nodes = append(nodes, b.out...)
		b.size = drawing.Point{X: boxWidth, Y: 8 + 4*max(len(b.in), len(b.out))}
		out = append(out, b)
	}
	y := [2]int{topY, topY}
	for i := range out {
		b := &out[i]
		column := min(len(b.in), 1)
		b.at = drawing.Point{X: leftX + column*(boxWidth+laneStep*(len(nodes)+1)), Y: y[column]}
		y[column] += b.size.Y + 8
	}
	return out, nodes
}

// root writes the file that the others hang in.
func (p *project) root(sheets []drawing.Sheet) []byte {
	s := &sheet{project: p, path: "/" + p.uuid}
	boxes, nodes := p.boxes(sheets)
	low := 0
	for _, b := range boxes {
		low = max(low, b.at.Y+b.size.Y)
	}
	remarks := p.remarks()
	low += 10
	title := p.build.Spec.Title
	if title == "" {
		title = p.stem
	}
	s.begin(p.uuid, paperFor(low+remarkStep*len(remarks)), title, nil)
	for i := range boxes {
		s.box(&boxes[i])
	}
	for i, n := range nodes {
		s.lane(boxes, n, leftX+boxWidth+laneStep*(i+1))
	}
	for i, r := range remarks {
		s.text(drawing.Text{At: drawing.Fine{X: 10 * leftX, Y: 10 * (low + remarkStep*i)}, S: r})
	}
	s.open("sheet_instances")
	s.line("(path \"/\" (page \"1\"))")
	s.end()
	s.end()
	return []byte(s.writer.text.String())
}

// remarkStep is from one line of the remarks to the next, remarkWidth how many letters
// one has.
const remarkStep, remarkWidth = 2, 90

// remarks are what whoever lays out or simulates the board has to know.
func (p *project) remarks() []string {
	var out []string
	add := func(text string) { out = append(out, words.Wrap(text, "", "  ", remarkWidth)...) }
	n := p.build.Board.Spec.OpAmp.PerPackage
	add(fmt.Sprintf("Pins of the packages: as most packages of %s have them. Check that yours has.", words.Count(n, "op-amp", "op-amps")))
	add("Dashed: what is not on the board, the sources (V), their resistance, and the loads.")
	add(fmt.Sprintf("Simulation: models are in %s.lib. Sources have 1 V AC in all; the rails stand at their terminals.", p.stem))
	for i, x := range p.build.Board.Selectors() {
		if i == 0 {
			add("The field Sim.Params of a selector says where it stands in a simulation, 1 for the first position. The pins of a pole are its letter, and with a position its throw there; those of one throw lie at one place. Selectors break before they make:")
		}
		var poles []string
		for _, pole := range x.Poles {
			poles = append(poles, p.build.Board.Works(pole))
		}
		add(fmt.Sprintf("%s, %s: %s", x.Ref, x.Words(p.build.Settings), strings.Join(poles, ", ")))
	}
	return out
}

// paperFor is the smallest paper that is high enough (steps of the grid).
func paperFor(low int) string {
	for _, p := range []struct {
		name string
		high int
	}{{"A4", 150}, {"A3", 218}, {"A2", 315}, {"A1", 450}} {
		if low <= p.high {
			return quoted(p.name)
		}
	}
	return quoted("A0")
}

// box writes a sheet's box with its pins.
func (s *sheet) box(b *box) {
	s.open("sheet (at %s) (size %s) (stroke (width 0.254) (type solid)) (fill (color 0 0 0 0.0)) (uuid %s)", xy(b.at), xy(b.size), b.uuid)
	x, y := 10*b.at.X, 10*b.at.Y
	s.field(field{name: "Sheetname", value: b.sheet.Name, at: drawing.Fine{X: x, Y: y - 5}, justify: "left bottom"})
	s.field(field{name: "Sheetfile", value: b.file, at: drawing.Fine{X: x, Y: y + 10*b.size.Y + 5}, justify: "left top"})
	for i, n := range b.in {
		s.line("(pin %s input (at %s 180) %s (uuid %s))", quoted(n), xy(b.inAt(i)), effects(drawing.Normal, "left", false), id(b.uuid, n))
	}
	for i, n := range b.out {
		s.line("(pin %s output (at %s 0) %s (uuid %s))", quoted(n), xy(b.outAt(i)), effects(drawing.Normal, "right", false), id(b.uuid, n))
	}
	s.line("(instances (project %s (path %s (page \"%d\"))))", quoted(s.stem), quoted(s.path), b.page)
	s.end()
}

// lane joins the pins of a node by an upright wire at x.
func (s *sheet) lane(boxes []box, node string, x int) {
	var ys []int
	join := func(p drawing.Point) {
		s.wire(p, drawing.Point{X: x, Y: p.Y})
		ys = append(ys, p.Y)
	}
	for i := range boxes {
		b := &boxes[i]
		if k := slices.Index(b.in, node); k >= 0 {
			join(b.inAt(k))
		}
		if k := slices.Index(b.out, node); k >= 0 {
			join(b.outAt(k))
		}
	}
	slices.Sort(ys)
	for i, y := range ys[1:] {
		s.wire(drawing.Point{X: x, Y: ys[i]}, drawing.Point{X: x, Y: y})
		if i > 0 {
			s.junction(drawing.Point{X: x, Y: ys[i]})
		}
	}
}

// file is the name of a sheet's file.
func (p *project) file(sheet string) string { return fmt.Sprintf("%s_%s.kicad_sch", p.stem, sheet) }

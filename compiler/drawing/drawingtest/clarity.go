package drawingtest

import (
	"fmt"

	"bandwright/compiler/drawing"
)

// thing is something on a sheet that takes room.
type thing struct {
	name string
	box  drawing.Box
	of   int // the symbol that it belongs to, -1 for none
}

// clarity says what on a sheet can not be told apart: symbols, texts and wires that lie
// on each other, ends without a mark, what leaves the frame.
func clarity(s *drawing.Sheet) []string {
	var out []string
	fault := func(format string, args ...any) { out = append(out, fmt.Sprintf("sheet "+s.Name+": "+format, args...)) }
	bodies, leads, texts := things(s)
	var wires []thing
	for _, w := range s.Wires {
		wires = append(wires, thing{fmt.Sprintf("the wire %v to %v of %s", w.From, w.To, w.Node), around(fine(w.From), fine(w.To), 1), -1})
	}
	apart := func(a, b []thing, same bool) {
		for i, x := range a {
			for j, y := range b {
				if same && j >= i || x.of >= 0 && x.of == y.of {
					continue
				}
				if overlap(x.box, y.box) {
					fault("%s lies on %s", x.name, y.name)
				}
			}
		}
	}
	apart(bodies, bodies, true)
	apart(texts, texts, true)
	apart(texts, bodies, false)
	apart(texts, wires, false)
	apart(texts, leads, false)
	apart(bodies, wires, false)
	apart(bodies, leads, false)
	out = append(out, crossings(s)...)
	frame, block := frames(s)
	for _, list := range [][]thing{bodies, texts, wires} {
		for _, x := range list {
			if x.box.Min.X < frame.Min.X || x.box.Min.Y < frame.Min.Y || x.box.Max.X > frame.Max.X || x.box.Max.Y > frame.Max.Y {
				fault("%s leaves the frame", x.name)
			}
			if overlap(x.box, block) {
				fault("%s lies on the title block", x.name)
			}
		}
	}
	return out
}

// things are the bodies, leads and texts of a sheet. An op-amp's reference stands inside
// of it: symbols and their own texts may touch.
func things(s *drawing.Sheet) (bodies, leads, texts []thing) {
	for i := range s.Symbols {
		x := &s.Symbols[i]
		bodies = append(bodies, thing{fmt.Sprintf("%s %s at %v", x.Shape().Name, x.Ref, x.At), x.Body(), i})
		for k, p := range x.Shape().Pins {
			leads = append(leads, thing{fmt.Sprintf("the lead of %s", x.Ref), around(fine(pin(x, k)), x.Place(p.Lead), 1), i})
		}
		for _, t := range []drawing.Text{x.RefAt, x.ValueAt} {
			if t.S == "" {
				continue
			}
			of := -1
			if x.Kind == drawing.OpAmp {
				of = i
			}
			texts = append(texts, thing{fmt.Sprintf("%q at %v", t.S, t.At), t.Box(), of})
		}
	}
	for _, t := range s.Texts {
		texts = append(texts, thing{fmt.Sprintf("%q at %v", t.S, t.At), t.Box(), -1})
	}
	for _, l := range s.Labels {
		texts = append(texts, thing{fmt.Sprintf("the label %q at %v", l.Node, l.At), l.Text().Box(), -1})
	}
	return bodies, leads, texts
}

// crossings looks for wires and pins that end on others without ending there together,
// lie on each other, or meet four at a point, where a reader can not tell a crossing
// from a joint; and for junctions that are missing.
func crossings(s *drawing.Sheet) []string {
	var out []string
	fault := func(format string, args ...any) { out = append(out, fmt.Sprintf("sheet "+s.Name+": "+format, args...)) }
	ends := map[drawing.Point]int{}
	marks := map[drawing.Point]bool{}
	for _, p := range s.Junctions {
		marks[p] = true
	}
	for _, w := range s.Wires {
		if w.From == w.To || w.From.X != w.To.X && w.From.Y != w.To.Y {
			fault("the wire %v to %v is neither level nor upright", w.From, w.To)
		}
		ends[w.From]++
		ends[w.To]++
	}
	for i := range s.Symbols {
		for k := range s.Symbols[i].Pins {
			ends[pin(&s.Symbols[i], k)]++
		}
	}
	labelled := map[drawing.Point]bool{}
	for _, l := range s.Labels {
		labelled[l.At] = true
		if ends[l.At] == 0 {
			fault("the label %s hangs in the air", l.Node)
		}
	}
	for p, n := range ends {
		switch {
		case n == 1 && !labelled[p]:
			fault("an end hangs in the air at %v", p)
		case n > 3:
			fault("%d ends meet at %v", n, p)
		case (n > 2) != marks[p]:
			fault("%d ends meet at %v, marked: %v", n, p, marks[p])
		}
		for _, w := range s.Wires {
			if p != w.From && p != w.To && overlap(around(fine(p), fine(p), 1), around(fine(w.From), fine(w.To), 1)) {
				fault("an end at %v lies on the wire %v to %v", p, w.From, w.To)
			}
		}
	}
	return out
}

func fine(p drawing.Point) drawing.Fine { return drawing.Fine{X: 10 * p.X, Y: 10 * p.Y} }

// around is the box of two corners and so much on every side.
func around(a, b drawing.Fine, by int) drawing.Box {
	return drawing.Box{Min: drawing.Fine{X: min(a.X, b.X) - by, Y: min(a.Y, b.Y) - by}, Max: drawing.Fine{X: max(a.X, b.X) + by, Y: max(a.Y, b.Y) + by}}
}

func overlap(a, b drawing.Box) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}

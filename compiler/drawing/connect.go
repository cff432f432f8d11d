package drawing

import (
	"cmp"
	"fmt"
	"slices"
)

// connect divides the wires where others, pins or labels end on them, drops what lies
// twice, names every wire's node and finds the junctions. It fails where two nodes
// touch, or a wire touches none.
func (s *Sheet) connect() error {
	s.divide()
	at := map[Point]Point{} // a point → one that it is connected with
	var find func(p Point) Point
	find = func(p Point) Point {
		next, ok := at[p]
		if !ok || next == p {
			return p
		}
		at[p] = find(next)
		return at[p]
	}
	for _, w := range s.Wires {
		at[find(w.From)] = find(w.To)
	}
	nodes := map[Point]string{}
	name := func(p Point, node string) error {
		p = find(p)
		if other, ok := nodes[p]; ok && other != node {
			return fmt.Errorf("drawing: %s and %s touch on the sheet %s at %v", other, node, s.Name, p)
		}
		nodes[p] = node
		return nil
	}
	for _, x := range s.Symbols {
		for _, p := range x.Pins {
			if err := name(p.At, p.Node); err != nil {
				return fmt.Errorf("%w: %s", err, x.Ref)
			}
		}
	}
	for _, l := range s.Labels {
		if err := name(l.At, l.Node); err != nil {
			return err
		}
	}
	for i := range s.Wires {
		w := &s.Wires[i]
		node, ok := nodes[find(w.From)]
		if !ok {
			return fmt.Errorf("drawing: a wire at %v of the sheet %s leads nowhere", w.From, s.Name)
		}
		w.Node = node
	}
	s.join()
	return nil
}

// ends lists all points where something ends: wires, pins, labels.
func (s *Sheet) ends() []Point {
	var out []Point
	for _, w := range s.Wires {
		out = append(out, w.From, w.To)
	}
	for _, x := range s.Symbols {
		for _, p := range x.Pins {
			out = append(out, p.At)
		}
	}
	for _, l := range s.Labels {
		out = append(out, l.At)
	}
	slices.SortFunc(out, order)
	return slices.Compact(out)
}

// order of points: from the top, each row from the left.
func order(a, b Point) int { return cmp.Or(cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X)) }

// divide cuts wires at every end that lies on them and drops those that lie twice.
func (s *Sheet) divide() {
	ends := s.ends()
	var out []Wire
	for _, w := range s.Wires {
		if order(w.From, w.To) > 0 {
			w.From, w.To = w.To, w.From
		}
		last := w.From
		for _, p := range ends { // in the order of the wire
			if p != w.From && p != w.To && w.holds(p) {
				out = append(out, Wire{From: last, To: p})
				last = p
			}
		}
		out = append(out, Wire{From: last, To: w.To})
	}
	slices.SortFunc(out, func(a, b Wire) int { return cmp.Or(order(a.From, b.From), order(a.To, b.To)) })
	s.Wires = slices.Compact(out)
}

// holds reports whether a point lies on the wire.
func (w Wire) holds(p Point) bool {
	between := func(a, x, b int) bool { return min(a, b) <= x && x <= max(a, b) }
	return between(w.From.X, p.X, w.To.X) && between(w.From.Y, p.Y, w.To.Y)
}

// join puts a junction where three or more wires and pins meet.
func (s *Sheet) join() {
	count := map[Point]int{}
	for _, w := range s.Wires {
		count[w.From]++
		count[w.To]++
	}
	for _, x := range s.Symbols {
		for _, p := range x.Pins {
			count[p.At]++
		}
	}
	s.Junctions = nil
	for _, p := range s.ends() {
		if count[p] > 2 {
			s.Junctions = append(s.Junctions, p)
		}
	}
}

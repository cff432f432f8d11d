// Package drawingtest judges drawings: what is connected on the sheets against the
// board's netlist, part by part and node by node, and whether a reader can tell things
// apart. It goes by what lies on the sheets alone, never by the names of nodes that
// wires and pins carry.
package drawingtest

import (
	"fmt"
	"strings"
	"testing"

	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/netlist"
)

// place is a point of one sheet, or what is the same on all of them.
type place struct {
	sheet int
	at    drawing.Point
	name  string
}

// nets are places that are connected.
type nets map[place]place

func (n nets) find(p place) place {
	for {
		next, ok := n[p]
		if !ok {
			return p
		}
		p = next
	}
}

func (n nets) join(a, b place) {
	if a, b = n.find(a), n.find(b); a != b {
		n[a] = b
	}
}

// Check holds a board's sheets to all that is asked of a drawing.
func Check(t *testing.T, b *board.Board, sheets []drawing.Sheet) {
	t.Helper()
	for _, fault := range Faults(b, sheets) {
		t.Error(fault)
	}
}

// Faults says all that is wrong with a board's sheets.
func Faults(b *board.Board, sheets []drawing.Sheet) []string {
	out := connectivity(b, sheets)
	for i := range sheets {
		out = append(out, clarity(&sheets[i])...)
	}
	return out
}

// connected reads the sheets as a person does: what ends at the same point is
// connected, labels of one name are, and so is all ground and each rail.
func connected(sheets []drawing.Sheet) nets {
	n := nets{}
	for i := range sheets {
		s := &sheets[i]
		for _, w := range s.Wires {
			n.join(place{i, w.From, ""}, place{i, w.To, ""})
		}
		for _, l := range s.Labels {
			far := place{sheet: -1, name: l.Node}
			if l.Kind == drawing.Local {
				far.sheet = i
			}
			n.join(place{i, l.At, ""}, far)
		}
		for _, x := range s.Symbols {
			switch x.Kind {
			case drawing.Ground, drawing.RailPlus, drawing.RailMinus:
				n.join(place{i, pin(&x, 0), ""}, place{sheet: -2, name: x.Shape().Name})
			}
		}
	}
	return n
}

// pin is where a symbol's pin lies, worked out once more: mirrored, turned, moved.
func pin(x *drawing.Symbol, k int) drawing.Point {
	p := x.Shape().Pins[k].At
	if x.Mirror {
		p.X = -p.X
	}
	at := [...]drawing.Point{p, {X: -p.Y, Y: p.X}, {X: -p.X, Y: -p.Y}, {X: p.Y, Y: -p.X}}[x.Turn]
	return drawing.Point{X: x.At.X + at.X, Y: x.At.Y + at.Y}
}

// wanted is a part that has to be drawn, with its nodes in the order of its pins.
type wanted struct {
	kind  drawing.SymbolKind
	value float64
	nodes []string
}

// netlistOf are the parts of a board's netlist, contacts as their selectors, and what
// stands on the sheet of the supply.
func netlistOf(b *board.Board) map[string]wanted {
	out := map[string]wanted{}
	for _, c := range b.Chains() {
		for _, p := range c.Positions {
			if p.Selector == "" {
				continue
			}
			w := wanted{kind: drawing.Selector}
			throws, pole := p.Throws()
			for _, x := range throws {
				w.nodes = append(w.nodes, strings.ToLower(x.Node))
			}
			w.nodes = append(w.nodes, strings.ToLower(pole))
			out[p.Selector] = w
		}
	}
	kinds := map[netlist.Kind]drawing.SymbolKind{netlist.Resistor: drawing.Resistor, netlist.Capacitor: drawing.Capacitor,
		netlist.Amplifier: drawing.OpAmp, netlist.Source: drawing.Source,
		netlist.Diode: drawing.Diode, netlist.Contact: drawing.Relay, netlist.Transistor: drawing.Transistor}
	c := netlist.New()
	nodes, volts := b.Sources()
	for i, n := range nodes {
		c.Source("V"+n, n, "0", volts[i])
	}
	b.Parts(c)
	for _, p := range c.Parts() {
		w := wanted{kind: kinds[p.Kind], value: p.Value}
		for i := range 3 {
			if i < 2 || p.Kind == netlist.Amplifier || p.Kind == netlist.Contact || p.Kind == netlist.Transistor {
				w.nodes = append(w.nodes, c.Name(p.Nodes[i]))
			}
		}
		switch p.Kind {
		case netlist.Contact: // the other end of the coil
			w.nodes, w.value = append(w.nodes, "0"), 0
		case netlist.Diode, netlist.Transistor:
			w.value = 0
		}
		out[p.Ref] = w
	}
	for _, p := range b.Packages {
		out["supply "+p.Ref] = wanted{drawing.SupplyUnit, 0, []string{board.PlusRail, board.MinusRail}}
	}
	return out
}

// connectivity compares the sheets with the netlist.
func connectivity(b *board.Board, sheets []drawing.Sheet) []string {
	var out []string
	fault := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	n := connected(sheets)
	want := netlistOf(b)
	nodeOf, netOf := map[place]string{}, map[string]place{}
	named := func(p place, node string) {
		p = n.find(p)
		if other, ok := nodeOf[p]; ok && other != node {
			fault("%s and %s are one net on the sheet %s", other, node, sheets[max(p.sheet, 0)].Name)
		}
		if other, ok := netOf[node]; ok && other != p {
			fault("%s falls apart: %v and %v", node, other, p)
		}
		nodeOf[p], netOf[node] = node, p
	}
	for kind, node := range map[drawing.SymbolKind]string{drawing.Ground: "0", drawing.RailPlus: board.PlusRail, drawing.RailMinus: board.MinusRail} {
		named(place{sheet: -2, name: drawing.ShapeOf(kind, 0).Name}, node)
	}
	drawn := map[string]int{}
	for i := range sheets {
		for j := range sheets[i].Symbols {
			x := &sheets[i].Symbols[j]
			ref := x.Ref
			switch x.Kind {
			case drawing.Ground, drawing.RailPlus, drawing.RailMinus, drawing.Terminal:
				continue
			case drawing.SupplyUnit:
				ref = "supply " + ref
			}
			w, ok := want[ref]
			drawn[ref]++
			if !ok || drawn[ref] > 1 {
				fault("%s is drawn %d times on the sheet %s, and in the netlist: %v", ref, drawn[ref], sheets[i].Name, ok)
				continue
			}
			kind := x.Kind
			switch kind {
			case drawing.Link, drawing.Trimmer:
				kind = drawing.Resistor
			case drawing.Electrolytic:
				kind = drawing.Capacitor
			}
			if kind != w.kind || x.Amount != w.value && x.Kind != drawing.SupplyUnit || len(x.Pins) != len(w.nodes) || x.RefAt.S != x.Ref {
				fault("%s is drawn as %s %g with %d pins, want %v", ref, x.Shape().Name, x.Amount, len(x.Pins), w)
				continue
			}
			for k, node := range w.nodes {
				if p := pin(x, k); p != x.Pins[k].At {
					fault("pin %d of %s is said to be at %v, and is at %v", k, ref, x.Pins[k].At, p)
				}
				named(place{i, pin(x, k), ""}, node)
			}
		}
	}
	for ref := range want {
		if drawn[ref] == 0 {
			fault("%s is not drawn", ref)
		}
	}
	return out
}

package kicad_test

import (
	"fmt"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/targets/kicad"
)

// The suite finds the pins of every kind of symbol, in every turn and mirrored, where
// the drawing has them.
func TestPinsAreWhereTheyAreDrawn(t *testing.T) {
	d := drawing.Sheet{Name: "common", Title: "all symbols", Paper: "User", Size: drawing.Point{X: 500, Y: 600}}
	want := map[string]string{} // node by reference and pin
	n := 0
	var positions []board.Position
	for k, kind := range []drawing.SymbolKind{drawing.Resistor, drawing.Capacitor, drawing.Electrolytic, drawing.Selector, drawing.Terminal, drawing.Source, drawing.Diode, drawing.Trimmer, drawing.Relay, drawing.Transistor, drawing.OpAmp} {
		for turn := range 8 {
			n++
			x := drawing.Symbol{Kind: kind, At: drawing.Point{X: 30 + 40*turn, Y: 30 + 30*k}, Turn: turn % 4, Mirror: turn > 3, Value: "1k", Amount: 1e3}
			if kind == drawing.Selector {
				x.N = 3
			}
			x.Ref = fmt.Sprintf("%s%d", x.Shape().Letter, n)
			if kind == drawing.Selector { // three alternatives, the second in two positions
				x.N = 3
				positions = append(positions, board.Position{Selector: x.Ref, Slot: biquad.Slot[board.Alternative]{
					Alt: []board.Alternative{{Out: "a"}, {Out: "b"}, {Out: "c"}}, Pick: []uint8{0, 1, 2, 1}, By: []biquad.Axis{{Choices: 4}}}})
			}
			if kind == drawing.OpAmp {
				x.Package, x.Units = x.Ref, 1
			}
			x.RefAt = drawing.Text{At: drawing.Fine{X: 10*x.At.X + 40, Y: 10*x.At.Y - 50}, S: x.Ref, Anchor: drawing.Begin}
			x.ValueAt = drawing.Text{At: drawing.Fine{X: 10*x.At.X + 40, Y: 10*x.At.Y - 70}, S: x.Value, Anchor: drawing.End}
			for i, p := range x.Shape().Pins {
				at := x.Place(drawing.Fine{X: 10 * p.At.X, Y: 10 * p.At.Y})
				node := fmt.Sprintf("n%d_%d", n, i)
				x.Pins = append(x.Pins, drawing.Pin{Number: p.Number, Name: p.Name, Node: node, At: drawing.Point{X: at.X / 10, Y: at.Y / 10}})
				d.Labels = append(d.Labels, drawing.Label{At: drawing.Point{X: at.X / 10, Y: at.Y / 10}, Node: node})
				number := p.Number
				if kind == drawing.OpAmp {
					number = []string{"3", "2", "6"}[i]
				}
				if kind == drawing.Selector {
					number = []string{"A1", "A2", "A3", "A"}[i]
				}
				want[x.Ref+" "+number] = node
				if number == "A2" {
					want[x.Ref+" A4"] = node
				}
			}
			d.Symbols = append(d.Symbols, x)
		}
	}
	b := &compiler.Build{Wanted: compiler.Wanted{Spec: &language.Spec{Name: "symbols", Board: &language.Board{}}}, Board: &board.Board{Spec: &language.Board{}, Common: board.Chain{Block: 1, Positions: positions}}}
	b.Settings = []verify.Setting{{Name: "setting", Choices: []string{"a", "b", "c", "d"}}}
	b.Board.OpAmp.GainBandwidthHz, b.Board.OpAmp.OpenLoopGain = 1e7, 1e5
	folder := write(t, kicad.EmitSheets(b, []drawing.Sheet{d}))
	e := export(t, folder, "symbols")
	found := 0
	for _, net := range e.Nets {
		for _, p := range net.Nodes {
			name := net.Name[strings.LastIndex(net.Name, "/")+1:]
			if w := want[p.Ref+" "+p.Pin]; w != "" {
				found++
				if w != name {
					t.Errorf("pin %s of %s is at %s, want %s", p.Pin, p.Ref, name, w)
				}
			}
		}
	}
	if found != len(want) {
		t.Errorf("%d pins found, want %d", found, len(want))
	}
}

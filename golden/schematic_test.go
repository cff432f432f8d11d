package golden

import (
	"testing"

	"bandwright/compiler/drawing"
	"bandwright/compiler/drawing/drawingtest"
)

// The schematic of every shipped board is connected as its netlist is, has every part
// once, and nothing on it lies on anything else.
func TestSchematics(t *testing.T) {
	boards := 0
	for _, path := range shipped(t) {
		b, _ := compile(t, path)
		if b.Board == nil {
			continue
		}
		boards++
		sheets, err := drawing.Draw(b.Board, b.Settings)
		if err != nil {
			t.Fatal(path, err)
		}
		drawingtest.Check(t, b.Board, sheets)
	}
	if boards < 4 {
		t.Errorf("only %d boards", boards)
	}
}

package golden

import (
	"testing"

	"bandwright/compiler/drawing"
	"bandwright/compiler/drawing/drawingtest"
)

// covers is the least share of its drawing area that the drawing on any page of a board
// covers, and how many pages are larger than A4. siskin's first page and dabchick's last way
// hold three stages at the most.
var covers = map[string]struct {
	share float64
	large int
}{"heron": {0.67, 1}, "dabchick": {0.40, 0}, "bittern": {0.80, 1}, "siskin": {0.20, 0}}

// The schematic of every shipped board is connected as its netlist is, has every part
// once, nothing on it lies on anything else, and the pages are filled.
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
		want, ok := covers[b.Spec.Name]
		if !ok {
			t.Errorf("%s: how much of its pages has to be covered?", path)
		}
		large := 0
		for i := range sheets {
			if sheets[i].Paper != "A4" {
				large++
			}
			if share := drawingtest.Covered(&sheets[i]); share < want.share {
				t.Errorf("%s: %.0f %% of the page %s is covered, want %.0f %%", path, 100*share, sheets[i].Name, 100*want.share)
			}
		}
		if large > want.large {
			t.Errorf("%s: %d pages larger than A4, want %d", path, large, want.large)
		}
	}
	if boards != len(covers) {
		t.Errorf("%d boards, want %d", boards, len(covers))
	}
}

package compare

import (
	"os"
	"strings"
	"testing"
)

// A part that moves to another class is told with both tolerances, whatever moved it;
// what stays is not.
func TestAnotherClass(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src := replaced(t, string(data), "series: E12}", "series: E12, tolerance: [5 %, 1 %]}")
	was := accepted(t, src)
	if len(was.Board.Classes) == 0 {
		t.Fatal("no classes")
	}
	same := Results(was, accepted(t, src))
	if len(same.Changes) > 0 {
		t.Errorf("nothing changed: %v", same.Changes)
	}
	class := map[string]float64{}
	for _, c := range was.Board.Classes {
		for _, ref := range c.Refs {
			class[ref] = c.Tolerance
		}
	}
	now := accepted(t, replaced(t, src, "board-magnitude: 0.2 dB", "board-magnitude: 0.2 dB, board-spread: 0.6 dB"))
	moved := 0
	text := ""
	for _, x := range Results(was, now).Changes {
		if x.Kind == OfPart {
			text += x.Sentence + "\n"
		}
	}
	for _, c := range now.Board.Classes {
		for _, ref := range c.Refs {
			if class[ref] != c.Tolerance {
				moved++
			}
		}
	}
	if moved == 0 || !strings.Contains(text, "classes of parts: C") || !strings.Contains(text, " of 1 % instead of 5 %") {
		t.Errorf("%d parts are of another class: %s", moved, text)
	}
}

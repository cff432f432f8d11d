package result_test

import (
	"context"
	"math"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// NAME.json has the levels of every way in every combination of settings, each with the
// level of its own input, and where the first op-amp clips is the least of the stages'
// margins; the worst of all is what the promise has found.
func TestLevels(t *testing.T) {
	const src = `bandwright: 1
name: sources
settings: {source: [line, phone], room: [large, small]}
ways:
  low: {filters: [{peak: {at: 80 Hz, q: 3, gain: 8 dB, when: {room: small}}}]}
  high: {}
common: [{gain: {by: 9 dB, when: {source: phone}}}]
crossovers: [{between: [low, high], family: LR, order: 2, at: 1 kHz}]
promise: {board-spread: off, board-yield: off, crossover-sum: off}
board: {input: {level: {source: {line: 2 V, phone: 0.9 V}}}}
`
	b, faults, err := compiler.Compile(context.Background(), "sources", []byte(src), nil)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	board := result.Of(b).Board
	least := math.Inf(1)
	for k, want := range []int{4, 2} {
		levels := board.Ways[k].Levels
		if len(levels) != want {
			t.Errorf("%d combinations of %s, want %d", len(levels), board.Ways[k].Way, want)
		}
		seen := map[string]bool{}
		for _, l := range levels {
			if seen[l.Setting["source"]+l.Setting["room"]] {
				t.Errorf("%v twice", l.Setting)
			}
			seen[l.Setting["source"]+l.Setting["room"]] = true
			if want := map[string]float64{"line": 2, "phone": 0.9}[l.Setting["source"]]; l.InputV != want {
				t.Errorf("%v: %g V at the input, want %g", l.Setting, l.InputV, want)
			}
			margin := math.Inf(1)
			for _, s := range l.Stages {
				margin = math.Min(margin, s.MarginDB)
			}
			if db := 20 * math.Log10(l.ClipV/l.InputV); math.Abs(db-margin) > 0.01 || len(l.Stages) < 2 {
				t.Errorf("%v: clips %.3f dB above the level, the least margin is %.3f dB", l.Setting, db, margin)
			}
			least = math.Min(least, margin)
		}
	}
	worst := math.Inf(-1)
	for _, f := range b.Findings {
		if f.Promise == "board-headroom" {
			worst = math.Max(worst, f.Worst)
		}
	}
	if math.Abs(worst+least) > 0.01 {
		t.Errorf("%.3f dB of headroom, and the promise found %.3f dB", least, -worst)
	}
}

package compiler_test

import (
	"math"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
)

const heldSum = `bandwright: 1
name: rail
ways:
  low: {filters: [{peak: {at: 2 kHz, q: 2, gain: -3 dB}}], polarity: inverted}
  high: {filters: [{peak: {at: 2 kHz, q: 2, gain: -3 dB}}]}
crossovers:
  - {between: [low, high], family: LR, order: 2, at: 2 kHz}
promise: {headroom: off, sum: off, phase: off, board-magnitude: 0.6 dB, board-spread: off}
board: {held: held.yaml, few-values: off}
`

// A change that stays inside what is promised of the ways changes no part where nothing is
// promised of the sum, and some where the sum is promised.
func TestNoPartIsChangedForASumThatIsNotPromised(t *testing.T) {
	first := compiledHeld(t, heldSum, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	moved := strings.ReplaceAll(heldSum, "gain: -3 dB", "gain: -3.4 dB")
	b := compiledHeld(t, moved, held, compiler.Holding{})
	worst := 0.0
	for _, f := range compiledHeld(t, strings.Replace(moved, "sum: off", "sum: 3 dB", 1), held, compiler.Holding{}).Findings {
		if f.Promise == promise.Sum.Name && f.Realisation == "board" {
			worst = math.Max(worst, math.Abs(f.Worst))
		}
	}
	if worst < 0.2 {
		t.Fatalf("the sum is off by %.2f dB only", worst)
	}
	if n := b.Board.Kept.Count(); n > 0 {
		t.Errorf("%d parts changed: %+v", n, b.Board.Kept.Changes)
	}
	asked := compiledHeld(t, strings.Replace(moved, "sum: off", "sum: 0.1 dB", 1), held, compiler.Holding{})
	if asked.Board.Kept.Count() == 0 {
		t.Error("no part changed for a sum that is promised")
	}
}

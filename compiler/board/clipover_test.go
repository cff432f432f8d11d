package board_test

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// TestClipOver takes a board whose op-amps are slow: towards the band's end the level at which they clip is the slew rate
// over 2πf times the peak, and the least over the band is what the level plan finds.
func TestClipOver(t *testing.T) {
	b := build(t, `bandwright: 1
name: slow
ways: {only: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}]}}
promise: {board-spread: off, board-yield: off}
board: {input: {level: 2 V, source-impedance: 0 ohm}, op-amp: {slew-rate: 0.2 V/us}}
`)
	c := verify.Case{C: biquad.Combination{}}
	hz, volts, err := b.Board.ClipOver(c)
	if err != nil || len(hz) != len(volts) {
		t.Fatal(len(hz), len(volts), err)
	}
	least, high := math.Inf(1), 0
	for i, v := range volts {
		least = math.Min(least, v)
		if hz[i] < 5000 {
			continue
		}
		high++
		if want := 0.2e6 / (2 * math.Pi * hz[i] * math.Sqrt2); v > want*(1+1e-9) || v < want/1.02 { // the last stage gives back what is lost in the build-out
			t.Errorf("%g V at %g Hz, want %g", v, hz[i], want)
		}
	}
	p, err := b.Board.LevelPlan(c)
	if err != nil {
		t.Fatal(err)
	}
	if want := p.Stages[p.First].Clip.InputV; high < 5 || math.Abs(least/want-1) > 1e-3 {
		t.Errorf("at least %g V, the plan says %g", least, want)
	}
	if low := volts[0]; low < 1.5*least {
		t.Errorf("%g V at %g Hz", low, hz[0])
	}
}

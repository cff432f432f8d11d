package board_test

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
)

// A follower and a string of resistors: a step of a tapped gain is what the input stage's
// offset and the tap's resistance make of it, by hand.
func TestDCStepByHand(t *testing.T) {
	b := build(t, little("settings: {trim: [0 dB, -6 dB]}\n", "{gain: {by: -6 dB, when: {trim: -6 dB}}}", "")+"\n").Board
	steps := b.DCSteps(1)
	if len(steps) != 1 || steps[0].From != 0 || steps[0].To != 1 {
		t.Fatalf("%+v", steps)
	}
	p := b.Ways[0].Positions[0]
	s := p.Switched()
	if s == nil || len(s.Values) != 3 {
		t.Fatalf("%+v", p)
	}
	top, low, pole := s.Values[0], s.Values[1], s.Values[2]
	parallel := func(r ...float64) float64 {
		g := 0.0
		for _, x := range r {
			g += 1 / x
		}
		return 1 / g
	}
	m, in := b.OpAmp, 0.0
	for _, e := range b.Common.Ends {
		if e.Use == board.Bias {
			in = e.Value
		}
	}
	if b.Spec.Input.CouplingF == 0 {
		in = parallel(in, b.Spec.Input.SourceOhm)
	}
	// The input's follower: its offset, and its + input's current through what it sees. The
	// string's op-amp has the same offset in both positions, but sees another resistance.
	ratio := parallel(low, pole) / (top + parallel(low, pole))
	want := (m.OffsetV+m.BiasA*in)*(1-ratio) + m.BiasA*parallel(top, low, pole)
	if e := steps[0].WorstV/want - 1; math.Abs(e) > 0.02 {
		t.Errorf("%g V, %g V by hand", steps[0].WorstV, want)
	}
	// Never more than both voltages by themselves together, and typically less than a third.
	sum := 0.0
	for k := range 2 {
		solver, outs := b.Solver(biquad.Combination{uint8(k)})
		o, err := solver.Offsets(outs[0])
		if err != nil {
			t.Fatal(err)
		}
		sum += o.Worst
	}
	if steps[0].WorstV > sum*1.05 || steps[0].TypicalV > steps[0].WorstV/3 || math.IsNaN(steps[0].TypicalV) || !(steps[0].TypicalV > 0) {
		t.Errorf("%+v, and %g V at either by itself", steps[0], sum)
	}
}

// Whole stages step by all of their offsets, an opened element by less.
func TestElementsStepLess(t *testing.T) {
	element := build(t, little("settings: {cut: [small, large]}\n", "{peak: {at: 300 Hz, q: 1, gain: -4 dB, when: {cut: large}}}", "")).Board
	stages := build(t, little("settings: {cut: [small, large]}\n", "{low-shelf: {at: 300 Hz, q: 0.7, gain: -4 dB, when: {cut: large}}}", "")).Board
	a, b := element.DCSteps(1)[0], stages.DCSteps(1)[0]
	t.Logf("%.3g mV with an element, %.3g mV with whole stages", 1e3*a.WorstV, 1e3*b.WorstV)
	if a.WorstV > b.WorstV/2 {
		t.Errorf("%g V with an element, %g V with whole stages", a.WorstV, b.WorstV)
	}
}

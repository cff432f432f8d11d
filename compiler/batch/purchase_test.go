package batch_test

import (
	"slices"
	"testing"

	"bandwright/compiler/batch"
)

// On small boards the choice has the fewest steps from the loosest classes of all choices
// there are: each with fewer is tried with all boards, and misses.
func TestFewestSteps(t *testing.T) {
	const quiet = "input: {source-impedance: 0}, output: {build-out: 0}, "
	for _, x := range []struct {
		filters, block string
		limit, share   float64
	}{
		{"{low-pass: {at: 1 kHz, q: 2}}", "resistors: {tolerance: [5 %, 1 %]}, capacitors: {tolerance: [10 %, 5 %, 1 %]}", 1, 0.95},
		{"{low-pass: {at: 1 kHz, q: 2}}", "resistors: {tolerance: [2 %, 0.5 %]}, capacitors: {tolerance: [5 %, 2 %]}", 0.5, 0.9},
		{"{high-pass: {at: 100 Hz, q: 1}}, {gain: {by: 6 dB}}", "resistors: {tolerance: [5 %, 1 %]}, capacitors: {tolerance: [10 %, 2 %]}", 1, 0.99},
		{"{high-pass: {at: 100 Hz, q: 1}}, {gain: {by: 6 dB}}", "resistors: {tolerance: [5 %, 1 %]}, capacitors: {tolerance: [10 %, 2 %]}, trim: 0.5 dB", 0.7, 0.95},
		{"{high-pass: {at: 80 Hz, q: 1.2}}, {low-pass: {at: 3 kHz, q: 1.2}}", "resistors: {tolerance: [5 %, 1 %]}, capacitors: {tolerance: [5 %, 1 %]}, distribution: normal", 0.5, 0.95},
		{"{peak: {at: 500 Hz, q: 2, gain: -6 dB}}", "resistors: {tolerance: [5 %, 1 %]}, capacitors: {tolerance: [10 %, 1 %]}", 1, 0.95},
		{"{low-pass: {at: 1 kHz, q: 2}}", "resistors: {tolerance: [5 %, 1 %], ageing: 1 %}, capacitors: {tolerance: [10 %, 2 %], tempco: 200 ppm/K}, temperature: 10 degC to 50 degC", 1, 0.9},
	} {
		b := build(t, little(x.filters, quiet+x.block))
		c := judge(t, b).Choice(b.Spec.Board, batch.Terms{LowHz: 20, HighHz: 20000, LimitDB: x.limit, Share: x.share})
		chosen, kept := c.Choose()
		classes := c.Classes()
		steps := 0
		for _, k := range chosen {
			steps += k
		}
		if !kept || !c.Holds(chosen) || steps == 0 {
			t.Errorf("%s, %s: %v does not hold, or there was nothing to choose", x.filters, x.block, chosen)
		}
		tried, fewer := 0, 0
		each(classes, steps-1, func(other []int) {
			if tried++; c.Holds(other) {
				fewer++
				t.Logf("%v holds as well as %v", other, chosen)
			}
		})
		t.Logf("%d of %d parts, %d steps, %d choices with fewer", len(slices.DeleteFunc(slices.Clone(chosen), func(k int) bool { return k == 0 })), len(chosen), steps, tried)
		if fewer > 0 {
			t.Errorf("%s, %s: %d choices with fewer steps hold", x.filters, x.block, fewer)
		}
	}
}

// each calls f with every choice of at most so many steps.
func each(classes []int, steps int, f func([]int)) {
	chosen := make([]int, len(classes))
	var from func(i, left int)
	from = func(i, left int) {
		if i == len(classes) {
			f(chosen)
			return
		}
		for k := 0; k < classes[i] && k <= left; k++ {
			chosen[i] = k
			from(i+1, left-k)
		}
		chosen[i] = 0
	}
	from(0, steps)
}

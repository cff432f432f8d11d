package batch_test

import (
	"context"
	"os"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/netlist"
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

// classed is dabchick with parts in classes.
func classed(t testing.TB) *compiler.Build {
	t.Helper()
	src, err := os.ReadFile("../../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(strings.Replace(string(src), "tolerance: 5 %", "tolerance: [1 %, 10 %, 5 %]", 1), "tolerance: 1 %", "tolerance: [2 %, 1 %]", 1)
	return build(t, text)
}

// On a whole board the finding is about the boards that the choice was made with; no part
// can be looser by itself; and the choice is the same on one processor.
func TestClassesOfABoard(t *testing.T) {
	b := classed(t)
	p := b.Batch.Purchase
	if !p.Kept || b.Batch.Yield().Share < 0.95 {
		t.Fatalf("%+v", b.Batch.Yield())
	}
	counts := map[string]int{}
	for _, x := range p.Parts {
		counts[x.Kind.String()]++
		if x.Kind == netlist.Capacitor && x.Value > b.Spec.Board.Capacitors.To {
			t.Errorf("%s is above the stock's range and comes in classes", x.Ref)
		}
	}
	if counts["resistor"] < 38 || counts["capacitor"] < 15 {
		t.Error(counts)
	}
	c := judge(t, b).Choice(b.Spec.Board, batch.Terms{LowHz: 20, HighHz: 20000, LimitDB: 1, Share: 0.95})
	runtime.GOMAXPROCS(1)
	chosen, _ := c.Choose()
	runtime.GOMAXPROCS(runtime.NumCPU())
	var fromBuild, fromOne []int
	for _, x := range p.Parts {
		fromBuild = append(fromBuild, x.Chosen)
	}
	for i, n := range c.Classes() {
		if n > 1 {
			fromOne = append(fromOne, chosen[i])
		}
	}
	if !reflect.DeepEqual(fromBuild, fromOne) {
		t.Errorf("%v on one processor, %v on all", fromOne, fromBuild)
	}
	closer := 0
	for i, k := range chosen {
		if k == 0 {
			continue
		}
		closer++
		chosen[i]--
		if c.Holds(chosen) {
			t.Errorf("part %d can be looser by itself", i)
		}
		chosen[i]++
	}
	if closer == 0 || closer == len(chosen) {
		t.Errorf("%d of %d parts are closer", closer, len(chosen))
	}
}

// Where not even the closest classes do, all parts are of them and the finding is broken;
// where the loosest do, all are loose.
func TestNothingToChoose(t *testing.T) {
	const filters = "{high-pass: {at: 100 Hz, q: 2}}, {low-pass: {at: 3 kHz, q: 2}}"
	b := build(t, little(filters, "capacitors: {tolerance: [20 %, 5 %]}"))
	for _, x := range b.Batch.Purchase.Parts {
		if x.Class().Tolerance != 0.05 {
			t.Errorf("%s is of %g", x.Ref, x.Class().Tolerance)
		}
	}
	broken := false
	for _, f := range b.Findings {
		broken = broken || f.Promise == "board-yield" && !f.Kept && strings.HasPrefix(f.Remedy, "board.capacitors.tolerance: 2 %")
	}
	if b.Batch.Purchase.Kept || !broken {
		t.Errorf("%+v", b.Findings)
	}
	b = build(t, little("{low-pass: {at: 3 kHz, q: 0.5}}", "capacitors: {tolerance: [0.1 %, 1 %]}"))
	for _, x := range b.Batch.Purchase.Parts {
		if x.Chosen != 0 || x.Class().Tolerance != 0.01 {
			t.Errorf("%+v", x)
		}
	}
	if !b.Batch.Purchase.Kept || build(t, little(filters, "capacitors: {tolerance: [1 %]}")).Batch.Purchase != nil {
		t.Error("one class is no choice")
	}
	b, faults := compile(t, little(filters, "capacitors: {tolerance: [5 %, 1 %]}")+"promise: {board-spread: off}\n")
	if b.Batch != nil || len(faults) != 1 || !strings.Contains(faults[0].Message, "a list of tolerances has no effect") {
		t.Error(faults)
	}
}

// The rows of one value of a stock file are its classes: from the one that is bought as a
// rule to closer ones of the same dielectric for no less voltage.
func TestClassesOfAStock(t *testing.T) {
	rows := "part,value,tolerance,tempco,voltage,dielectric,price\n"
	for _, nf := range []string{"1", "1.5", "2.2", "3.3", "4.7", "6.8", "10", "15", "22", "33", "47", "68", "100"} {
		rows += "A" + nf + "," + nf + " nF,5 %,100 ppm/K,63 V,film,0.1\n" +
			"B" + nf + "," + nf + " nF,0.1 %,0 ppm/K,16 V,film,0.2\n" + // for less voltage
			"C" + nf + "," + nf + " nF,0.2 %,0 ppm/K,63 V,ceramic,0.2\n" +
			"D" + nf + "," + nf + " nF,1 %,50 ppm/K,63 V,film,0.4\n" +
			"E" + nf + "," + nf + " nF,1 %,50 ppm/K,100 V,film,0.3\n" +
			"F" + nf + "," + nf + " nF,10 %,50 ppm/K,63 V,film,0.5\n"
	}
	spec := little("{high-pass: {at: 100 Hz, q: 2}}, {low-pass: {at: 3 kHz, q: 2}}", "capacitors: {stock: c.csv}, temperature: 20 degC to 30 degC")
	b, faults, err := compiler.Compile(context.Background(), "wren.yaml", []byte(spec), fstest.MapFS{"c.csv": {Data: []byte(rows)}})
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	seen := map[string]int{}
	for _, x := range b.Batch.Purchase.Parts {
		if x.Kind != netlist.Capacitor || len(x.Classes) != 2 {
			t.Fatalf("%+v", x)
		}
		c := x.Class()
		seen[c.Part.Name[:1]]++
		if want := map[string][2]float64{"A": {0.05, 100e-6}, "E": {0.01, 50e-6}}[c.Part.Name[:1]]; want != [2]float64{c.Tolerance, c.Tempco} {
			t.Errorf("%s: %+v", x.Ref, c)
		}
	}
	if seen["A"] == 0 || seen["E"] == 0 || !b.Batch.Purchase.Kept {
		t.Errorf("%v %+v", seen, b.Batch.Yield())
	}
}

package stage

import (
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// allPass is one of the second order at hz.
func allPass(hz, q float64) biquad.Analog {
	w := 2 * math.Pi * hz
	return biquad.Analog{W0: w, Keep: w, B: [3]float64{1, -1 / q, 1}, A: [3]float64{1, 1 / q, 1}}
}

// The ties of a Fliege all-pass are those that its published transfer function has: in
// (s²C1C2-sC2·r·Gb+r·G1G3)/(s²C1C2+sC2·Gb+r·G1G3), r = R4/R5, only G1·G3/C2 and R4/R5 matter.
func TestTies(t *testing.T) {
	topology, _ := circuit.ByName("fliege")
	b := corpusBench("E24", "E6")
	section := allPass(1e3, 0.7)
	p := topology.Propose(section, b.Means)
	l := newLattice(topology, p.Asked, b, newWanted(section, p.Level, b.Band), &pool{elements: topology.Parts(), most: 1, same: 1})
	list := b.MostExact(topology, section, 1)
	var got []string
	for _, x := range l.ties(list[0].Values) {
		of := "*"
		if x.inverse {
			of = "/"
		}
		got = append(got, l.elements[x.i].Ref+of+l.elements[x.j].Ref)
	}
	want := []string{"R1/R3", "R3/R1", "R4*R5", "R5*R4", "C2/R1", "R1/C2", "C2/R3", "R3/C2"}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Of all sets of values of a small stock that are no more than so far off, by trying all, most
// are listed where values matter by themselves: without ties a quarter of them is.
func TestMostExactAgainstAll(t *testing.T) {
	const (
		offDB = 0.8
		share = 0.7
	)
	topology, _ := circuit.ByName("fliege")
	b := corpusBench("E24", "E6")
	b = b.With(Stock{Ohm: []float64{2.2e3, 3.3e3, 3.6e3, 4.7e3, 5.1e3, 6.8e3, 10e3, 15e3}, Farad: []float64{10e-9, 22e-9, 33e-9, 47e-9}})
	section := allPass(1e3, 0.7)
	w := newWanted(section, topology.Propose(section, b.Means).Level, b.Band)
	all := 0
	v := make([]float64, 8)
	var each func(i int)
	each = func(i int) {
		switch {
		case i == len(v):
			if w.error(topology.Closed(v), offDB) <= offDB {
				all++
			}
		case topology.Parts()[i].Optional:
			each(i + 1)
		default:
			for _, v[i] = range b.Stock.Of(topology.Parts()[i]) {
				each(i + 1)
			}
		}
	}
	each(0)
	listed := 0
	for _, c := range b.MostExact(topology, section, 2000) {
		if c.ErrorDB <= offDB {
			listed++
		}
	}
	t.Logf("%d of %d", listed, all)
	if all < 100 || float64(listed) < share*float64(all) || listed > all {
		t.Errorf("%d of %d sets of values within %g dB are listed", listed, all, offDB)
	}
}

// What is estimated of the real op-amp is exact for the candidates that it is worked out of.
func TestNearIsExactForTheSample(t *testing.T) {
	topology, _ := circuit.ByName("fliege")
	b := corpusBench("E24", "E6")
	list := b.MostExact(topology, allPass(9e3, 0.9), 200)
	at := b.At([]float64{1e3, 5e3, 9e3, 15e3})
	some := []Candidate{list[0], list[60], list[199]}
	exact := map[int][]float64{}
	if err := b.At(at.Hz).Errors(list, func(i int, db, rad []float64) { exact[i] = slices.Concat(db, rad) }); err != nil {
		t.Fatal(err)
	}
	farthest := func(some []Candidate, of func(i int) bool) float64 {
		worst := 0.0
		if err := at.Near(some, list, func(i int, db, rad []float64) {
			for k, x := range slices.Concat(db, rad) {
				if of(i) {
					worst = math.Max(worst, math.Abs(x-exact[i][k]))
				}
			}
		}); err != nil {
			t.Fatal(err)
		}
		return worst
	}
	sampled := func(i int) bool { return i == 0 || i == 60 || i == 199 }
	if x := farthest(some, sampled); x > 1e-12 {
		t.Errorf("%g off where it was worked out", x)
	}
	if x := farthest(some[:1], sampled); x < 1e-4 {
		t.Errorf("one of them alone is %g off: the others are no test", x)
	}
}

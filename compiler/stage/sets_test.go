package stage

import (
	"math"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// stocked fails where a set has a value that is not in stock.
func stocked(t *testing.T, b *Bench, parts []circuit.Element, v []float64) {
	t.Helper()
	for i, e := range parts {
		if !b.Stock.Has(e, v[i]) {
			t.Errorf("%s of %g is not in stock", e.Ref, v[i])
		}
	}
}

// Sets of a string are in stock, each once, the best first, and the best of them is about as good as
// the best of all that there are.
func TestTappedSetsAgainstAll(t *testing.T) {
	b := New(Stock{Ohm: Values([]string{"E12"}, nil, 1e3, 10e3), Farad: []float64{1e-8}}, corpusBench("E24", "E6").Means, Band{FromHz: 20, ToHz: 20e3, DownDB: 40})
	gains := []float64{1, 0.8, 0.6}
	s, like, _ := b.Tapped(gains, 10e3)
	worst := func(v []float64) float64 {
		e := 0.0
		for k, g := range gains {
			e = math.Max(e, math.Abs(biquad.GainDB(real(s.States[k].Closed(v).At(0))/g)))
		}
		return e
	}
	sets := b.TappedSets(s, gains, like, 50)
	if len(sets) != 50 {
		t.Fatalf("%d sets", len(sets))
	}
	for i, v := range sets {
		stocked(t, b, s.Parts(), v)
		if i > 0 && worst(v) < worst(sets[i-1])-1e-8 {
			t.Errorf("%v has %.6f dB, and stands behind %v", v, worst(v), sets[i-1])
		}
		if slices.ContainsFunc(sets[:i], func(o []float64) bool { return slices.Equal(o, v) }) {
			t.Errorf("%v twice", v)
		}
	}
	least := math.Inf(1)
	for _, r1 := range b.Stock.Ohm {
		for _, r2 := range b.Stock.Ohm {
			for _, r3 := range b.Stock.Ohm {
				for _, hold := range b.Stock.Ohm {
					least = math.Min(least, worst([]float64{r1, r2, r3, hold}))
				}
			}
		}
	}
	t.Logf("%.4f dB, the least of all %.4f dB", worst(sets[0]), least)
	if worst(sets[0]) > least+0.02 {
		t.Errorf("%v has %.4f dB, and %.4f dB can be had", sets[0], worst(sets[0]), least)
	}
}

// Sets of a stage with an element that is opened keep its level, and are about what is asked for; of
// a sum only those of the section change.
func TestSetsOfSwitchedStages(t *testing.T) {
	b := corpusBench("E24", "E6")
	a := math.Pow(10, -4.0/40)
	cut := biquad.Analog{W0: 2 * math.Pi * 300, B: [3]float64{1, a / 2, 1}, A: [3]float64{1, 1 / (2 * a), 1}}
	topology := circuit.SummedOf(cut)
	sets := b.OpenedSets(topology, cut, -1, 60)
	if len(sets) < 20 {
		t.Fatalf("%d sets", len(sets))
	}
	flat := topology.Opened().States[1]
	for _, v := range sets {
		stocked(t, b, topology.Parts(), v)
		if e := biquad.GainDB(-real(flat.Closed(v).At(0))); math.Abs(e) > 0.005001 {
			t.Errorf("%v is flat at %.4f dB", v, e)
		}
	}
	c := Candidate{Topology: topology, Section: cut, Level: -1}
	for _, x := range b.Varied(c, sets) {
		if x.ErrorDB > 0.6 {
			t.Errorf("%v is %.3f dB off", x.Values, x.ErrorDB)
		}
	}
	other := cut
	other.W0 *= 3
	sections := []biquad.Analog{cut, other}
	x, err := b.Summed(sections, 60, Behind{}, 0.1)
	if err != nil || x == nil {
		t.Fatal(x, err)
	}
	own := circuit.SummedParts(sections, 1)
	for _, v := range b.SummedSets(sections, 1, x.Values, 60) {
		stocked(t, b, x.Parts(), v)
		for i := range v {
			if v[i] != x.Values[i] && (!slices.Contains(own, i) || i >= len(v)-2) {
				t.Errorf("part %d of a sum becomes %g", i, v[i])
			}
		}
		if e := b.Varied(Candidate{Topology: x.Switched.States[1].Topology, Section: other, Level: -1}, [][]float64{v})[0].ErrorDB; e > 1 {
			t.Errorf("%v is %.3f dB off", v, e)
		}
	}
}

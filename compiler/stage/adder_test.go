package stage

import (
	"slices"
	"testing"
)

// What an Adder finds is what Bench.Adds does, path by path, in any order and for parts
// that are not fitted too.
func TestAdder(t *testing.T) {
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	paths := []Behind{{}, {Gain: func(hz float64) float64 { return 1 / (1 + hz/1000) }}}
	tried := 0
	for _, s := range sections() {
		all, _, err := b.Candidates(s, nil, 1, Behind{})
		if err != nil || len(all) == 0 {
			t.Fatal(err)
		}
		several := b.MostExact(all[0].Topology, s, 5)
		a, err := b.Adder(several[0], paths)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range slices.Backward(several) {
			got, err := a.Adds(c)
			if err != nil {
				t.Fatal(err)
			}
			for i, x := range paths {
				want, err := b.Adds([]Candidate{c}, x)
				if err != nil {
					t.Fatal(err)
				}
				tried++
				const step = 1e-9 // relative: another solver eliminates in another order
				if near := func(x, y float64) bool { return x-y <= step*y && y-x <= step*y }; !near(got[i].NoiseV2, want[0].NoiseV2) || !near(got[i].OffsetV, want[0].OffsetV) {
					t.Errorf("%s, path %d: %v, by itself %v", c.Topology.Name, i, got[i], want[0])
				}
			}
		}
	}
	if tried < 100 {
		t.Errorf("%d figures were tried", tried)
	}
}

package number

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"bandwright/biquad"
)

// under is a position that a setting puts in.
func under(d biquad.Digital, setting int) biquad.Slot[biquad.Digital] {
	return biquad.Slot[biquad.Digital]{
		Alt: []biquad.Digital{biquad.Through(d.Form), d},
		By:  []biquad.Axis{{Setting: setting, Choices: 2}}, Pick: []uint8{0, 1},
	}
}

// shelved is so many ways of so many fixed sections behind a common part with shelves under
// settings in front of a slow high-pass, and one way with a setting of its own.
func shelved(ways, sections int, rateHz float64) biquad.System[biquad.Digital] {
	s := biquad.System[biquad.Digital]{Common: biquad.Cascade[biquad.Digital]{Gain: 1, Slots: []biquad.Slot[biquad.Digital]{
		under(lowShelf(210, 0.7, -3, rateHz), 0), biquad.Fixed(highPass(22, 0.7, rateHz)), under(lowShelf(300, 0.7, 4, rateHz), 1),
	}}}
	for w := range ways {
		way := biquad.Way[biquad.Digital]{Polarity: 1, Cascade: biquad.Cascade[biquad.Digital]{Gain: 1}}
		for k := range sections {
			way.Slots = append(way.Slots, biquad.Fixed(lowPass(200*float64(1+w+k), 0.7, rateHz)))
		}
		s.Ways = append(s.Ways, way)
	}
	s.Ways[0].Slots = slices.Insert(s.Ways[0].Slots, 0, under(peak(900, 1, 2, rateHz), 2))
	return s
}

// What settings change stands last, behind every way where that makes no more sections run
// during a change; no response changes, and what settles is what is new alone.
func TestArranged(t *testing.T) {
	const rateHz = 48000.0
	hz := biquad.Spaced(20, 20000, 60)
	for _, c := range []struct{ ways, sections, common, twice, settleMs int }{
		{3, 4, 1, 3 + 4, 30},     // 2 shelves in each of 3 ways and a peak twice; in front, 3 and 12 sections would
		{3, 2, 3, 2 + 1 + 6, 60}, // in every way 4 sections more, twice, than the 6 that they spare
	} {
		before := shelved(c.ways, c.sections, rateHz)
		after := Arranged(before)
		if n := len(after.Common.Slots); n != c.common {
			t.Errorf("%+v: %d common sections", c, n)
		}
		if again := Arranged(after); !reflect.DeepEqual(again, after) {
			t.Errorf("%+v: arranged again, it changes", c)
		}
		twice, settle := 0, SettleSamples(before)
		for i, d := range DoubledOf(after) {
			slots := after.Common.Slots
			if i > 0 {
				slots = after.Ways[i-1].Slots
			}
			twice += len(slots) - d.From
			if slices.ContainsFunc(slots[d.Fixed:], func(s biquad.Slot[biquad.Digital]) bool { return len(s.By) == 0 }) {
				t.Errorf("%+v: cascade %d has a position that always runs behind one that a setting changes", c, i)
			}
		}
		if twice != c.twice {
			t.Errorf("%+v: %d sections run twice", c, twice)
		}
		if ms := 1000 * float64(settle) / rateHz; ms > float64(c.settleMs) {
			t.Errorf("%+v: settles for %g ms; before, for %g", c, ms, 1000*settling(append(slowest(before.Common.Slots), slowest(before.Ways[0].Slots)...))/rateHz)
		}
		for k := range before.Ways {
			biquad.Each(before.Axes(), 3, func(comb biquad.Combination) {
				h, g := make([]complex128, len(hz)), make([]complex128, len(hz))
				biquad.DigitalAt(h, before.Path(k), comb, rateHz, hz)
				biquad.DigitalAt(g, after.Path(k), comb, rateHz, hz)
				for i := range h {
					if d := biquad.DB(h[i] / g[i]); d > 1e-9 || d < -1e-9 {
						t.Fatalf("%+v: way %d, %v, %g Hz: %g dB from what it was", c, k, comb, hz[i], d)
					}
				}
			})
		}
	}
}

// Nothing waits between what is old and what is new: where ways are late no setting stays in the common part.
func TestArrangedLate(t *testing.T) {
	const rateHz = 48000.0
	s := shelved(3, 2, rateHz)
	if n := len(Arranged(s).Common.Slots); n != 3 {
		t.Fatalf("%d common sections, want 3 where no way is late", n)
	}
	s.Ways[1].DelayS = 4 / rateHz
	if n := len(Arranged(s).Common.Slots); n != 1 {
		t.Errorf("%d common sections, want 1 where a way is late", n)
	}
}

// A way hears the common part as many samples late as the common part and it say together, to the bit.
func TestWaysHearLate(t *testing.T) {
	const rateHz, n = 48000.0, 4000
	x := make([]float64, n)
	draw := rand.New(rand.NewPCG(6, 7))
	for i := range x {
		x[i] = draw.Float64() - 0.5
	}
	for _, f := range Formats {
		prompt := shelved(3, 2, rateHz)
		late := shelved(3, 2, rateHz)
		late.Common.DelayS = 3 / rateHz
		late.Ways[1].DelayS, late.Ways[2].DelayS = 5/rateHz, 40/rateHz
		var out [2][][]float64
		for i, s := range []biquad.System[biquad.Digital]{prompt, late} {
			s.Common.Slots = s.Common.Slots[1:2] // arranged alike
			fitted, kept := f.Systems([]biquad.System[biquad.Digital]{s}, 0.5, []float64{rateHz})
			out[i] = fitted.NewMachine(kept[0], 0.5, rateHz, 0.001, []int{2, 2, 2}).Run(x)
		}
		for w, by := range []int{3, 8, 43} {
			for i := n / 2; i < n; i++ {
				if out[1][w][i] != out[0][w][i-by] {
					t.Fatalf("%s, way %d, sample %d: %v, %d samples before %v", f.Name, w, i, out[1][w][i], by, out[0][w][i-by])
				}
			}
		}
	}
}

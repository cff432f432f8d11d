package page

import (
	"math"
	"os"
	"strings"
	"testing"

	"bandwright/biquad"
	formats "bandwright/biquad/number"
	"bandwright/compiler"
)

// TestAlong holds what a sine comes to along each way: behind the last section it is the peak that verification found,
// and behind each one before it what the cascade up to there gives on a hundred times as many frequencies.
func TestAlong(t *testing.T) {
	src, err := os.ReadFile("../../specs/heron.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text, _, _ := strings.Cut(string(src), "\nboard:")
	b, faults, err := compiler.Filters(t.Context(), "heron", []byte(text), os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	p := &Paper{Build: b}
	d := p.asked()[0]
	s := formats.Arranged(d.System)
	for k := range s.Ways {
		places := p.along(d, k)
		var slots []biquad.Slot[biquad.Digital]
		gain := d.InputGain * s.Common.Gain
		list := append(append([]biquad.Slot[biquad.Digital]{{}}, s.Common.Slots...), append([]biquad.Slot[biquad.Digital]{{}}, s.Ways[k].Slots...)...)
		if len(places) != len(list) {
			t.Fatalf("%d places of %d", len(places), len(list))
		}
		hz := biquad.Octaves(1, d.RateHz/2, 400)
		h := make([]complex128, len(hz))
		for i, x := range places {
			if list[i].Alt == nil {
				if i > 0 {
					gain *= s.Ways[k].Gain
				}
			} else {
				slots = append(slots, list[i])
			}
			c, most := biquad.Cascade[biquad.Digital]{Gain: gain, Slots: slots}, math.Inf(-1)
			biquad.Each(biquad.Axes(c), len(p.Settings), func(comb biquad.Combination) {
				biquad.DigitalAt(h, c, comb, d.RateHz, hz)
				for _, v := range h {
					most = math.Max(most, biquad.DB(v))
				}
			})
			if math.Abs(x.peakDB-most) > 0.005 {
				t.Errorf("way %d, behind %s: %.4f dB, not %.4f", k, x.name(), x.peakDB, most)
			}
		}
	}
}

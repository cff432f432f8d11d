package discretize

import (
	"math"
	"testing"

	"bandwright/biquad"
)

// The audit must see what a masked error figure does not: each case breaks one
// limit on purpose, beside a sound realisation that breaks none.
func TestAuditSeesWhatTheMaskHides(t *testing.T) {
	const rate = 48000.0
	w := 2 * math.Pi * 200
	low := biquad.Analog{W0: w, Keep: w, B: [3]float64{1}, A: [3]float64{1, math.Sqrt2, 1}}
	proto := biquad.Cascade[biquad.Analog]{Gain: 1, Slots: []biquad.Slot[biquad.Analog]{biquad.Fixed(low), biquad.Fixed(low)}}
	sound, err := Bilinear(low, rate)
	if err != nil {
		t.Fatal(err)
	}
	made := func(ds ...biquad.Digital) biquad.Cascade[biquad.Digital] {
		c := biquad.Cascade[biquad.Digital]{Gain: 1}
		for _, d := range ds {
			c.Slots = append(c.Slots, biquad.Fixed(d))
		}
		return c
	}
	flat := biquad.Cascade[biquad.Analog]{Gain: 1}
	// A pole-zero pair on top of each other but for a part in a thousand: no
	// response shows that it is about to fall off the circle.
	th, r := 2*math.Pi*100/rate, 1-1e-9
	edge := biquad.Digital{B: [3]float64{1, -2 * r * math.Cos(th), r * r * (1 - 1e-12)}, A: [3]float64{1, -2 * r * math.Cos(th), r * r}}
	// 1 + (1-z⁻¹)² reaches 14 dB at half the rate.
	rising := biquad.Digital{B: [3]float64{2, -2, 1}, A: [3]float64{1}}
	for _, c := range []struct {
		name                string
		proto               biquad.Cascade[biquad.Analog]
		made                biquad.Cascade[biquad.Digital]
		margin, ultra, stop bool
	}{
		{"sound", proto, made(sound, sound), false, false, false},
		{"pole near the circle", proto, made(sound, sound, edge), true, false, false},
		{"rises above the band", flat, made(rising), false, true, false},
		{"half the slope", proto, made(sound), false, false, true},
	} {
		a := AuditWay(c.proto, c.made, rate, Audible(rate), 0)
		if got := !(a.MarginRatio >= LeastMarginRatio); got != c.margin {
			t.Errorf("%s: margin ratio %g", c.name, a.MarginRatio)
		}
		if got := a.UltrasonicDB > MostExcessDB; got != c.ultra {
			t.Errorf("%s: ultrasonic %g dB at %g Hz", c.name, a.UltrasonicDB, a.UltrasonicHz)
		}
		if got := a.StopBandDB > MostExcessDB; got != c.stop {
			t.Errorf("%s: stop band %g dB at %g Hz", c.name, a.StopBandDB, a.StopBandHz)
		}
		if bad := c.margin || c.ultra || c.stop; a.Safe() == bad || (a.Violations() != "") != bad {
			t.Errorf("%s: safe %v, %q", c.name, a.Safe(), a.Violations())
		}
	}
}

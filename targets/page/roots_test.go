package page

import (
	"math"
	"testing"

	"bandwright/biquad"
)

// A section whose poles are exp(s/rate) of a pair at hz with a Q (matched z transform) has its root there.
func TestRootsOnTheAxis(t *testing.T) {
	for _, c := range []struct{ hz, q, rate float64 }{{22, 0.7071, 48e3}, {1000, 4, 44.1e3}, {9000, 0.9, 192e3}, {300, 0.51, 96e3}} {
		w := 2 * math.Pi * c.hz / c.rate
		radius, angle := math.Exp(-w/(2*c.q)), w*math.Sqrt(1-1/(4*c.q*c.q))
		d := biquad.Digital{Form: biquad.Direct, B: [3]float64{1, -1, 0}, A: [3]float64{1, -2 * radius * math.Cos(angle), radius * radius}}
		var poles, zeros []root
		for _, r := range rootsOf(d, c.rate) {
			if r.pole {
				poles = append(poles, r)
			} else {
				zeros = append(zeros, r)
			}
		}
		if len(poles) != 1 || math.Abs(poles[0].hz/c.hz-1) > 1e-6 || math.Abs(poles[0].q/c.q-1) > 1e-4 {
			t.Errorf("%+v: poles %+v", c, poles)
		}
		if len(zeros) != 1 || zeros[0].hz != 0 || zeros[0].String() != "0 Hz" {
			t.Errorf("%+v: zeros %+v", c, zeros)
		}
	}
}

package sweep

import (
	"math"
	"testing"
)

// The sine passes each frequency when an exponential sweep does: its period is measured
// between two upward crossings of zero.
func TestFrequency(t *testing.T) {
	s := New(48000, 5, -20)
	x := s.Samples()
	for _, hz := range []float64{40, 200, 1000, 3000} {
		at := LeadS + s.LengthS*math.Log2(hz/s.LowHz)/math.Log2(s.HighHz/s.LowHz)
		var crossings []float64
		for i := int(at * 48000); len(crossings) < 2; i++ {
			if x[i] < 0 && x[i+1] >= 0 {
				crossings = append(crossings, float64(i)+x[i]/(x[i]-x[i+1]))
			}
		}
		middle := (crossings[0] + crossings[1]) / 2 / 48000
		want := s.LowHz * math.Exp2((middle-LeadS)/s.LengthS*math.Log2(s.HighHz/s.LowHz))
		if got := 48000 / (crossings[1] - crossings[0]); math.Abs(got/want-1) > 0.002 {
			t.Errorf("%g Hz at %.3f s, want %g Hz", got, middle, want)
		}
	}
}

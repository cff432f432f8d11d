package prototype

import (
	"math"

	"bandwright/biquad"
)

// butterworth: poles evenly spaced on the unit circle, 1/Q = 2·sin θ with θ
// the angle from the imaginary axis (S. Butterworth, Experimental Wireless 7,
// 1930). -3.01 dB at 1 rad/s.
var butterworth = Family{
	Name: "butterworth",
	Also: []string{"bw", "but", "butter"},
	Doc:  "maximally flat magnitude, -3.01 dB at `at`",
	Sections: func(d Design) []biquad.Analog {
		var out []biquad.Analog
		if d.Order%2 == 1 {
			out = append(out, single(1))
		}
		for _, r := range butterworthDamping(d.Order) {
			out = append(out, pair(1, r))
		}
		return out
	},
}

// butterworthDamping is 1/Q of every pole pair of a Butterworth low-pass, in
// ascending Q: 2·sin((2k-1)π/2n) for k = n/2 … 1.
func butterworthDamping(order int) []float64 {
	var out []float64
	for k := order / 2; k >= 1; k-- {
		out = append(out, 2*math.Sin(float64(2*k-1)*math.Pi/float64(2*order)))
	}
	return out
}

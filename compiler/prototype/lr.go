package prototype

import "bandwright/biquad"

// lr: a Butterworth low-pass of half the order squared (J. Audio Eng. Soc.
// 24(1), 1976), -6.02 dB at 1 rad/s. The real pole of an odd half appears
// twice, as one section of Q 0.5.
var lr = Family{
	Name:     "LR",
	Also:     []string{"l-r"},
	Doc:      "a Butterworth alignment of half the order squared, -6.02 dB at `at`; even orders",
	EvenOnly: true,
	Sections: func(d Design) []biquad.Analog {
		var out []biquad.Analog
		half := d.Order / 2
		if half%2 == 1 {
			out = append(out, pair(1, 2))
		}
		for _, r := range butterworthDamping(half) {
			out = append(out, pair(1, r), pair(1, r))
		}
		return out
	},
}

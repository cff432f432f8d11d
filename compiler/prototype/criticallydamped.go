package prototype

import (
	"math"

	"bandwright/biquad"
)

// criticallyDamped: 1/(1 + c·p)^n with c = √(2^(1/n) - 1), so that it is
// -3.01 dB at 1 rad/s.
var criticallyDamped = Family{
	Name: "critically-damped",
	Also: []string{"cd", "critical", "critically damped"},
	Doc:  "equal real poles, no overshoot, -3.01 dB at `at`",
	Sections: func(d Design) []biquad.Analog {
		w := 1 / math.Sqrt(math.Expm1(ln2/float64(d.Order)))
		var out []biquad.Analog
		if d.Order%2 == 1 {
			out = append(out, single(w))
		}
		for range d.Order / 2 {
			out = append(out, pair(w, 2))
		}
		return out
	},
}

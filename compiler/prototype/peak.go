package prototype

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// peak is (p²+p·A/q+1)/(p²+p/(A·q)+1) with A = 10^(gain/40): the peaking
// prototype of the W3C Audio EQ Cookbook.
var peak = Kind{
	Kind: language.Kind{
		Name:    "peak",
		Doc:     "Boosts or cuts a band around `at`: (p²+p·A/q+1)/(p²+p/(A·q)+1) with A = 10^(gain/40); a cut is the inverse of the same boost.",
		Example: "{at: 1 kHz, q: 1.4, gain: -3 dB}",
		Keys: []language.Key{
			atKey("Centre frequency"),
			gainKey("Level at `at`"),
			qKey("Centre frequency divided by the width between the points of half the gain in dB; or give `bandwidth`", false),
			{
				Name: "bandwidth", Effect: language.Wanted, Type: language.Type{Number: true, Min: 0.01, Max: 10}, Example: "1.5",
				Doc: "Octaves between the points of half the gain in dB, a plain number from 0.01 to 10, instead of `q` = 1/(2·sinh(ln 2/2·bandwidth)).",
			},
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		var r float64 // 1/q
		switch {
		case given(args, "q") && given(args, "bandwidth"):
			return Ideal{}, []Problem{problem("bandwidth", "one of the two", "`q` and `bandwidth` set the same property")}
		case given(args, "q"):
			r = 1 / number(args, "q")
		case given(args, "bandwidth"):
			r = dampingOfOctaves(number(args, "bandwidth"))
		default:
			return Ideal{}, []Problem{problem("", "`q: 1.4`, or `bandwidth: 1`", "the peak needs `q` or `bandwidth`")}
		}
		a := biquad.FromDB(number(args, "gain") / 2)
		return section(omega(number(args, "at")), [3]float64{1, a * r, 1}, [3]float64{1, r / a, 1}), nil
	},
}

// dampingOfOctaves is 1/q = 2·sinh(ln 2/2·octaves) (W3C Audio EQ Cookbook, the
// analog form).
func dampingOfOctaves(octaves float64) float64 {
	sinh, _ := sinhCosh(math.Ln2 / 2 * octaves)
	return 2 * sinh
}

package prototype

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
)

// notch is (p²+d·p/q+1)/(p²+p/q+1), d = 10^(-depth/20) or 0.
var notch = Kind{
	Kind: language.Kind{
		Name: "notch",
		Doc:  "Removes a narrow band around `at`: (p²+d·p/q+1)/(p²+p/q+1) with d = 10^(-depth/20).",
		Keys: []language.Key{
			atKey("Frequency of the notch"),
			qKey("Frequency divided by the width between the -3.01 dB points of a complete notch", true),
			{
				Name: "depth", Effect: language.Wanted, Default: depthComplete, Example: "20 dB",
				Type: language.Type{Dims: []language.Dim{language.Level}, Min: 0.01, Max: 120, Words: []string{depthComplete}},
				Doc:  "Attenuation at `at` in dB, 0.01 to 120, or complete.",
			},
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		r, d := 1/number(args, "q"), 0.0
		if word(args, "depth") != depthComplete {
			d = biquad.FromDB(-number(args, "depth"))
		}
		return section(omega(number(args, "at")), [3]float64{1, d * r, 1}, [3]float64{1, r, 1}), nil
	},
}

const depthComplete = "complete"

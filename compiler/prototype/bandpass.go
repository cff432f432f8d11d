package prototype

import "bandwright/compiler/language"

// bandPass is (p/q)/(p²+p/q+1): 0 dB at `at`.
var bandPass = Kind{
	Kind: language.Kind{
		Name: "band-pass",
		Doc:  "Passes a band around `at` at 0 dB, 6 dB per octave on either side: (p/q)/(p²+p/q+1).",
		Keys: []language.Key{
			atKey("Centre frequency"),
			qKey("Centre frequency divided by the width between the -3.01 dB points", true),
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		r := 1 / number(args, "q")
		return section(omega(number(args, "at")), [3]float64{0, r, 0}, [3]float64{1, r, 1}), nil
	},
}

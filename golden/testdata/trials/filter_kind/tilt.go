package prototype

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
)

// tilt is (1+a·p)/(a+p) with a = 10^(gain/40).
var tilt = Kind{
	Kind: language.Kind{
		Name: "tilt",
		Doc:  "Tilts the level about `at`: (1+a·p)/(a+p) with a = 10^(gain/40) rises, or falls, by `gain` from low to high frequencies, at most 6 dB per octave.",
		Keys: []language.Key{
			atKey("Frequency whose level stays"),
			gainKey("Level far above `at` less that far below it"),
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		a := biquad.FromDB(number(args, "gain") / 2)
		return section(omega(number(args, "at")), [3]float64{1, a}, [3]float64{a, 1}), nil
	},
}

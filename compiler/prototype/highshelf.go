package prototype

import (
	"math"

	"bandwright/compiler/language"
)

// highShelf is the low-shelf with p → 1/p: A·(A·p²+p·√A/q+1)/(p²+p·√A/q+A),
// or (p·A+1)/(p/A+1).
var highShelf = Kind{
	Kind: language.Kind{
		Name: "high-shelf",
		Doc:  "Boosts or cuts what lies above `at`, which has half the gain in dB; order 2 after the W3C Audio EQ Cookbook, order 1 (p·A+1)/(p/A+1) with A = 10^(gain/40).",
		Keys: shelfKeys("above"),
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		return shelf(args, func(w, a, r float64) Ideal {
			if r == 0 {
				return section(w*a, [3]float64{1, a * a, 0}, [3]float64{1, 1, 0})
			}
			return section(w*math.Sqrt(a), [3]float64{1, a * r, a * a}, [3]float64{1, r, 1})
		})
	},
}

package prototype

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// lowShelf lifts or lowers all below `at`, which has half the dB. Order 2 is
// A·(p²+p·√A/q+A)/(A·p²+p·√A/q+1) of the W3C Audio EQ Cookbook, order 1
// (p+A)/(p+1/A), A = 10^(gain/40). In the pole's own frequency, ω0/√A and ω0/A,
// both have denominators free of A.
var lowShelf = Kind{
	Kind: language.Kind{
		Name: "low-shelf",
		Doc:  "Boosts or cuts what lies below `at`, which has half the gain in dB; order 2 after the W3C Audio EQ Cookbook, order 1 (p+A)/(p+1/A) with A = 10^(gain/40).",
		Keys: shelfKeys("below"),
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		return shelf(args, func(w, a, r float64) Ideal {
			if r == 0 {
				return section(w/a, [3]float64{a * a, 1, 0}, [3]float64{1, 1, 0})
			}
			return section(w/math.Sqrt(a), [3]float64{a * a, a * r, 1}, [3]float64{1, r, 1})
		})
	},
}

func shelfKeys(side string) []language.Key {
	return []language.Key{
		atKey("Frequency of half the gain in dB"),
		gainKey("Level far " + side + " `at`"),
		oneOrTwo("Order, 1 or 2"),
		{
			Name: "q", Effect: language.Wanted, Type: qType(), Default: "0.7071", Example: "0.9",
			Doc: "Q of order 2, a plain number from 0.05 to 1000: above 0.7071 the shelf overshoots; or give `slope`.",
		},
		{
			Name: "slope", Effect: language.Wanted, Type: language.Type{Number: true, Min: 0.01, Max: 10}, Example: "1",
			Doc: "Slope of order 2 instead of `q`, a plain number from 0.01 to 10: 1 is the steepest without overshoot, 1/q² = (A+1/A)(1/slope-1)+2.",
		},
	}
}

// shelf checks what both shelves share and calls build with ω0, A and 1/q (0
// for order 1). The section keeps its response at ω0.
func shelf(args *language.Value, build func(w, a, r float64) Ideal) (Ideal, []Problem) {
	w, a := omega(number(args, "at")), biquad.FromDB(number(args, "gain")/2)
	var problems []Problem
	r := 1 / number(args, "q")
	switch {
	case number(args, "order") == 1:
		r = 0
		for _, key := range []string{"q", "slope"} {
			if given(args, key) {
				problems = append(problems, problem(key, "leave `"+key+"` out, or `order: 2`", "a shelf of order 1 has no `%s`", key))
			}
		}
	case given(args, "q") && given(args, "slope"):
		problems = append(problems, problem("slope", "one of the two", "`q` and `slope` set the same property"))
	case given(args, "slope"):
		// 1/q² falls to zero where 1/slope = 1 - 2/(A+1/A).
		t := a + 1/a
		square := t*(1/number(args, "slope")-1) + 2
		if !(square >= 1/(maxQ*maxQ)) {
			problems = append(problems, problem("slope", "at most "+digits(steepest(t)),
				"no shelf of %s is as steep as slope %s", inDB(number(args, "gain")), digits(number(args, "slope"))))
			return Ideal{}, problems
		}
		r = math.Sqrt(square)
	}
	ideal := build(w, a, r)
	for i := range ideal.Sections {
		ideal.Sections[i].Keep = w
	}
	return ideal, problems
}

// steepest is the slope that leaves 1/q² = 1/maxQ² for A+1/A = t, less what a
// message rounds away, so that the printed figure is itself allowed.
func steepest(t float64) float64 { return 0.999 * t / (t - 2 + 1/(maxQ*maxQ)) }

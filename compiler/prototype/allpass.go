package prototype

import "bandwright/compiler/language"

// allPass is (1-p)/(1+p), or (p²-p/q+1)/(p²+p/q+1).
var allPass = Kind{
	Kind: language.Kind{
		Name:    "all-pass",
		Doc:     "Shifts the phase at constant level: (1-p)/(1+p) for order 1, (p²-p/q+1)/(p²+p/q+1) for order 2.",
		Example: "{at: 1 kHz, q: 0.7}",
		Keys: []language.Key{
			atKey("Frequency of -90° (order 1) or -180° (order 2)"),
			oneOrTwo("Order, 1 or 2"),
			qKey("Q of the pole pair: needed by order 2, and not by order 1", false),
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		w := omega(number(args, "at"))
		if number(args, "order") == 1 {
			var problems []Problem
			if given(args, "q") {
				problems = append(problems, problem("q", "leave `q` out, or `order: 2`", "an all-pass of order 1 has no `q`"))
			}
			return section(w, [3]float64{1, -1, 0}, [3]float64{1, 1, 0}), problems
		}
		if !given(args, "q") {
			return Ideal{}, []Problem{problem("", "`q: 0.7`, or `order: 1`", "an all-pass of order 2 needs `q`")}
		}
		r := 1 / number(args, "q")
		return section(w, [3]float64{1, -r, 1}, [3]float64{1, r, 1}), nil
	},
}

// oneOrTwo is the row of an order that is 2 unless it is said to be 1.
func oneOrTwo(doc string) language.Key {
	return language.Key{
		Name: "order", Effect: language.Wanted, Type: language.Type{Number: true, Integer: true, Min: 1, Max: 2}, Default: "2", Example: "1",
		Doc: doc + ".",
	}
}

package prototype

import "bandwright/compiler/language"

// highPass is the low-pass of the same arguments with p → 1/p.
var highPass = Kind{
	Kind: language.Kind{
		Name: "high-pass",
		Doc:  "Passes what lies above `at`: a family with an order, or a second-order section p²/(p²+p/q+1).",
		Keys: alignmentKeys(), Example: alignmentExample,
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		unit, problems := alignment(args)
		return Ideal{Gain: 1, Sections: placed(mirrored(unit), omega(number(args, "at")))}, problems
	},
}

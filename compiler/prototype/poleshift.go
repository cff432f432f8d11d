package prototype

import "bandwright/compiler/language"

// OfDriver is the word for the pole pair of a way's driver: the design puts its numbers in
// the place of the word.
const OfDriver = "driver"

// poleShift is (s²+s·ω1/q1+ω1²)/(s²+s·ω2/q2+ω2²): it cancels the pole pair of
// a second-order high-pass, such as a loudspeaker in a closed box, and puts
// another in its place.
var poleShift = Kind{
	Kind: language.Kind{
		Name: "pole-shift",
		Doc:  "Replaces the pole pair `from` of a second-order high-pass, such as a closed box, by the pair `to`: (s²+s·ω1/q1+ω1²)/(s²+s·ω2/q2+ω2²), unity at high frequencies.",
		Keys: []language.Key{
			{
				Name: "from", Effect: language.Wanted, Required: true, Example: "{at: 55 Hz, q: 0.8}",
				Type: language.Type{Either: []language.Type{
					{Keys: []language.Key{atKey("Frequency of the present pair"), qKey("Q of the present pair", true)}}, {Words: []string{OfDriver}}}},
				Doc: "Present pole pair: frequency (Hz) and Q, or `driver` for that of the way's own driver in its box.",
			},
			{
				Name: "to", Effect: language.Wanted, Required: true, Example: "{at: 34 Hz, q: 0.65}",
				Type: language.Type{Keys: []language.Key{atKey("Frequency of the pair that replaces it"), qKey("Q of the pair that replaces it", true)}},
				Doc:  "Pole pair that replaces it: frequency (Hz) and Q.",
			},
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		from, to := args.Get("from"), args.Get("to")
		if from.Word == OfDriver {
			return Ideal{}, []Problem{problem("from", "numbers, such as `{at: 55 Hz, q: 0.8}`", "the driver's pole pair is not known here")}
		}
		ratio := number(from, "at") / number(to, "at")
		return section(omega(number(to, "at")),
			[3]float64{ratio * ratio, ratio / number(from, "q"), 1},
			[3]float64{1, 1 / number(to, "q"), 1}), nil
	},
}

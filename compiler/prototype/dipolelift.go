package prototype

import "bandwright/compiler/language"

// dipoleLift is (s+ω_from)/(s+ω_to).
var dipoleLift = Kind{
	Kind: language.Kind{
		Name: "dipole-lift",
		Doc:  "Compensates the low-frequency roll-off of an open-backed loudspeaker: (s+ω_from)/(s+ω_to) rises towards 6 dB per octave below `from`, levels out at `to`, and is unity at high frequencies.",
		Keys: []language.Key{
			{
				Name: "from", Effect: language.Wanted, Type: frequencyType(), Required: true, Example: "500 Hz",
				Doc: "Frequency below which the lift rises, 0.001 Hz to 1 MHz.",
			},
			{
				Name: "to", Effect: language.Wanted, Type: frequencyType(), Required: true, Example: "190 Hz",
				Doc: "Frequency, below `from`, at which the lift levels out, 0.001 Hz to 1 MHz.",
			},
		},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		from, to := number(args, "from"), number(args, "to")
		var problems []Problem
		if to >= from {
			problems = append(problems, problem("to", "less than "+inHz(from)+"; for a cut, a low-shelf of order 1",
				"a lift below %s cannot level out at %s", inHz(from), inHz(to)))
		}
		return section(omega(to), [3]float64{from / to, 1, 0}, [3]float64{1, 1, 0}), problems
	},
}

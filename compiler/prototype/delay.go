package prototype

import "bandwright/compiler/language"

// maxDelayS bounds a delay: firmware holds it in memory.
const maxDelayS = 1.0

// delay is exp(-s·by).
var delay = Kind{
	Kind: language.Kind{
		Name:     "delay",
		Doc:      "Delays the signal by a time, or by the time that sound takes for a length at 343 m/s (20 °C).",
		NoWhen:   true,
		NoMethod: true, NoTopology: true,
		Keys: []language.Key{{
			Name: "by", Effect: language.Wanted, Required: true, Example: "31 mm",
			Type: language.Type{Dims: []language.Dim{language.Time, language.Length}, Min: 0, Max: maxDelayS * language.SpeedOfSound},
			Doc:  "Time from 0 to 1 s, or length from 0 to 343 m.",
		}},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		t := 0.0
		if by := args.Get("by"); by != nil {
			t = by.Quantity()
		}
		var problems []Problem
		if t > maxDelayS {
			problems = append(problems, problem("by", "at most 1 s, or 343 m", "a delay of %s s is too long", digits(t)))
		}
		return Ideal{Gain: 1, DelayS: t}, problems
	},
}

package prototype

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
)

// gain is the same at all frequencies.
var gain = Kind{
	Kind: language.Kind{
		Name:     "gain",
		Doc:      "Changes the level by the same amount at every frequency.",
		NoMethod: true, NoTopology: true,
		Keys: []language.Key{{
			Name: "by", Effect: language.Wanted, Required: true, Example: "-1.5 dB",
			Type: language.Type{Dims: []language.Dim{language.Level}, Min: -maxGainDB, Max: maxGainDB},
			Doc:  "Change of level in dB, -60 to 60.",
		}},
	},
	Ideal: func(args *language.Value) (Ideal, []Problem) {
		return Ideal{Gain: biquad.FromDB(number(args, "by"))}, nil
	},
}

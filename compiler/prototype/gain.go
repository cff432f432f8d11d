package prototype

import (
	"bandwright/biquad"
	"bandwright/compiler/spec"
)

// gain is the same at all frequencies.
var gain = Kind{
	Kind: spec.Kind{
		Name:     "gain",
		Doc:      "Changes the level by the same amount at every frequency.",
		NoMethod: true, NoTopology: true,
		Keys: []spec.Key{{
			Name: "by", Required: true, Example: "-1.5 dB",
			Type: spec.Type{Dims: []spec.Dim{spec.Level}, Min: -maxGainDB, Max: maxGainDB},
			Doc:  "Change of level in dB, -60 to 60.",
		}},
	},
	Ideal: func(args *spec.Value) (Ideal, []Problem) {
		return Ideal{Gain: biquad.FromDB(number(args, "by"))}, nil
	},
}

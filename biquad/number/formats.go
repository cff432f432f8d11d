package number

import "bandwright/biquad"

// Reference is the format that every realisation exists in, asked for or not.
const Reference = "float64"

// Formats is every number format, in the order that documentation lists them.
// To add one: a row here.
var Formats = []Format{
	{
		Name:         "float64",
		Doc:          "64-bit IEEE 754 floating point",
		Forms:        []biquad.Form{biquad.Direct},
		Round:        func(x float64) float64 { return x },
		UnitRoundOff: 1.0 / (1 << 53),
		kernel:       newFloat[float64],
	},
	{
		Name:         "float32",
		Doc:          "32-bit IEEE 754 floating point",
		Forms:        []biquad.Form{biquad.Delta, biquad.Direct},
		Round:        func(x float64) float64 { return float64(float32(x)) },
		UnitRoundOff: 1.0 / (1 << 24),
		kernel:       newFloat[float32],
	},
}

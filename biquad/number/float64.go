package number

import "bandwright/biquad"

var float64Format = described(Format{
	Name:         "float64",
	Doc:          "64-bit IEEE 754 floating point",
	Forms:        []biquad.Form{biquad.Direct},
	Round:        func(x float64) float64 { return x },
	Stored:       Stored{Bits: 64, Float: true},
	UnitRoundOff: 1.0 / (1 << 53),
	rounding:     relative,
	Kernel:       floating,
	C:            inFloating(double, "double precision", doubleOnly, sizeOfDouble),
}, native[float64](64, "", doubleSize))

var (
	double     = CType{"double", 8}
	doubleOnly = refusing(double, "DBL_MANT_DIG != 53", "FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 1 && FLT_EVAL_METHOD != 16")
)

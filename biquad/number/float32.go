package number

import "bandwright/biquad"

var float32Format = described(Format{
	Name:         "float32",
	Doc:          "32-bit IEEE 754 floating point",
	Forms:        []biquad.Form{biquad.Delta, biquad.Direct},
	Round:        func(x float64) float64 { return float64(float32(x)) },
	Stored:       Stored{Bits: 32, Float: true},
	UnitRoundOff: 1.0 / (1 << 24),
	rounding:     relative,
	Kernel:       floating,
	C:            inSingle(),
}, native[float32](32, "f", singleSize))

var (
	single     = CType{"float", 4}
	singleOnly = refusing(single, "FLT_MANT_DIG != 24", "FLT_EVAL_METHOD != 0 && FLT_EVAL_METHOD != 16")
)

// inSingle has words moved by the instructions of Arm's floating-point units, which never look into them.
func inSingle() C {
	c := inFloating(single, "single precision", singleOnly, sizeOfSingle)
	c.Several = CSeveral{
		When: "defined __GNUC__ && defined __arm__ && defined __ARM_FP", Load: "vldmia", Store: "vstmia", Register: "s", Constraint: "t",
		First: 2, // before them stand samples that a call gives
		// Behind the gain: five words, a section's states, three sections' states, twelve words.
		Passes: CPasses{First: 1, FirstStates: 6, States: 8, Words: 14},
	}
	return c
}

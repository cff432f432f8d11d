package compiler

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
)

// dithered compiles a small filter with dither at so many bits, as the spec has it.
func dithered(t *testing.T, dither, formats string) *Build {
	t.Helper()
	text := fmt.Sprintf("bandwright: 1\nname: x\nways: {w: {filters: [{high-pass: {family: butterworth, order: 2, at: 80 Hz}}]}}\n"+
		"promise: {noise: -110 dBFS, headroom: off}\ndigital: {rates: [48 kHz], formats: [%s], method: bilinear, dither: %s}\n", formats, dither)
	b, faults, err := Compile(context.Background(), "x.yaml", []byte(text), nil)
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

// The promise counts dither: a converter of 16 bits has 20·log10(2^-15·√(2/4)) dBFS of it in half
// of the rate, 0.8 dB less from 20 Hz to 20 kHz. What the remedy says keeps the promise,
// and a bit less does not.
func TestNoisePromiseCountsDither(t *testing.T) {
	of := func(dither string) (worst float64, kept bool, remedy string) {
		for _, f := range dithered(t, dither, "q31").Findings {
			if f.Promise == "noise" {
				return f.Worst, f.Kept, f.Remedy
			}
		}
		t.Fatal("no finding on noise")
		return
	}
	worst, kept, remedy := of("16 bit")
	if want := 20*math.Log10(math.Exp2(-15)*math.Sqrt(0.5)) + 10*math.Log10(19980.0/24000); kept || math.Abs(worst-want) > 0.01 {
		t.Errorf("16 bits: %.3f dBFS, kept %v, want %.3f", worst, kept, want)
	}
	if remedy != "take converters of 19 bits, `dither: 19 bit`" {
		t.Errorf("remedy %q", remedy)
	}
	if worst, kept, _ := of("18 bit"); kept {
		t.Errorf("18 bits: %.2f dBFS", worst)
	}
	if worst, kept, remedy := of("19 bit"); !kept || remedy != "" {
		t.Errorf("19 bits: %.2f dBFS, %q", worst, remedy)
	}
}

// Floating point has no words to round to: that is told, and nothing else is different.
func TestDitherWithoutFixedPointIsToldOf(t *testing.T) {
	b := dithered(t, "16 bit", "float32")
	if len(b.Warnings) != 1 || !strings.Contains(b.Warnings[0].Message, "none of the formats is fixed point") || b.Warnings[0].Pos.Line != 5 {
		t.Errorf("%v", b.Warnings)
	}
	for _, d := range b.Digital {
		if _, _, _, ok := d.Dither(); ok {
			t.Errorf("%s has dither", d.Name())
		}
	}
	if _, faults, _ := Compile(context.Background(), "x.yaml", []byte("bandwright: 1\nname: x\nways: {w: {filters: []}}\ndigital: {rates: [48 kHz], formats: [q31], dither: 20.5 bit}\n"), nil); len(faults) != 1 ||
		!strings.Contains(faults[0].Message, "not a whole number of bits") {
		t.Errorf("%v", faults)
	}
	if b := dithered(t, "24 bit", "q31"); len(b.Warnings) > 0 {
		t.Errorf("%v", b.Warnings)
	}
}

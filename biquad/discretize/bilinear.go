package discretize

import (
	"context"
	"fmt"
	"math"

	"bandwright/biquad"
)

func bilinear() Method {
	return Method{
		Name: "bilinear",
		Doc: "s → (1-z⁻¹)/(1+z⁻¹), prewarped so that each filter is exact at its own corner; " +
			"exact for the W3C Audio EQ Cookbook's formulas, several dB off in the top octave",
		BelowNyquist: true,
		Realise:      func(ctx context.Context, j Job) (Made, error) { return sectionWise(ctx, j, bilinear()) },
		Section: func(a biquad.Analog, j Job) (biquad.Digital, string, error) {
			d, err := Bilinear(a, j.RateHz)
			return d, "bilinear", err
		},
	}
}

// Bilinear is the bilinear transform of one section at rateHz (Hz), prewarped
// so that the response at a.Keep is the analog one: s = K·(1-z⁻¹)/(1+z⁻¹),
// K = Keep/tan(Keep/(2·rate)); A. V. Oppenheim, R. W. Schafer, Discrete-Time
// Signal Processing, section 7.1. It is computed in the delta form, where
// every coefficient is a sum of terms of one sign for a section with left-hand
// roots, so that corners far below the rate lose no digits. A frequency Keep at
// or above half the rate is an error.
func Bilinear(a biquad.Analog, rateHz float64) (biquad.Digital, error) {
	if a.Keep >= math.Pi*rateHz {
		return biquad.Digital{}, fmt.Errorf("%g Hz is not below half of the rate %g Hz", a.Keep/(2*math.Pi), rateHz)
	}
	// p = s/W0 = (1/g)/(1+2x) with x = 1/(z-1).
	g := a.W0 * math.Tan(a.Keep/(2*rateHz)) / a.Keep
	n := a.Order()
	b, d := inDelta(a.B, n, g), inDelta(a.A, n, g)
	norm := d[0]
	for k := range b {
		b[k] /= norm
		d[k] /= norm
	}
	return biquad.Digital{Form: biquad.Delta, B: b, A: d}, nil
}

// inDelta is gⁿ·(1+2x)ⁿ·c(p) as coefficients of 1, x, x².
func inDelta(c [3]float64, n int, g float64) [3]float64 {
	switch n {
	case 0:
		return [3]float64{c[0]}
	case 1:
		return [3]float64{float64(c[0]*g) + c[1], 2 * c[0] * g}
	}
	c0, c1 := c[0]*g*g, c[1]*g
	return [3]float64{c0 + float64(c1+c[2]), float64(4*c0) + float64(2*c1), 4 * c0}
}

package prototype

import (
	"math"

	"bandwright/biquad"
)

// pair is the low-pass section 1/(1 + r·p + p²) with p = s/w and r = 1/Q.
func pair(w, r float64) biquad.Analog {
	return biquad.Analog{W0: w, Keep: 1, B: [3]float64{1}, A: [3]float64{1, r, 1}}
}

// single is the low-pass section 1/(1 + p) with p = s/w.
func single(w float64) biquad.Analog {
	return biquad.Analog{W0: w, Keep: 1, B: [3]float64{1}, A: [3]float64{1, 1}}
}

// section is one section of a filter whose corner is its own scale (rad/s).
func section(w float64, b, a [3]float64) Ideal {
	return Ideal{Gain: 1, Sections: []biquad.Analog{{W0: w, Keep: w, B: b, A: a}}}
}

// placed moves a prototype of 1 rad/s to the corner w (rad/s).
func placed(unit []biquad.Analog, w float64) []biquad.Analog {
	out := make([]biquad.Analog, len(unit))
	for i, s := range unit {
		s.W0 *= w
		s.Keep = w
		out[i] = s
	}
	return out
}

// mirrored is the high-pass of a low-pass at 1 rad/s, p → 1/p: coefficients in
// reverse order, the same numbers exactly.
func mirrored(unit []biquad.Analog) []biquad.Analog {
	out := make([]biquad.Analog, len(unit))
	for i, s := range unit {
		n := s.Order()
		m := biquad.Analog{W0: 1 / s.W0, Keep: 1 / s.Keep}
		for k := range n + 1 {
			m.B[k], m.A[k] = s.B[n-k], s.A[n-k]
		}
		out[i] = m
	}
	return out
}

// amplified multiplies the first section by a gain (linear), in place.
func amplified(sections []biquad.Analog, gain float64) []biquad.Analog {
	for k, b := range sections[0].B {
		if b != 0 { // no zero becomes -0
			sections[0].B[k] = b * gain
		}
	}
	return sections
}

// omega is the angular frequency of f (Hz) in rad/s.
func omega(f float64) float64 { return 2 * math.Pi * f }

// lnPerDB is the natural logarithm of a power ratio of 1 dB.
const lnPerDB = math.Ln10 / 10

// excess is 10^(db/10) - 1: for a ripple or a stop-band attenuation in dB, the
// square of the usual ε.
func excess(db float64) float64 { return math.Expm1(lnPerDB * db) }

// sinhCosh goes through Expm1: the last bits of the library's own hyperbolic
// functions depend on the processor.
func sinhCosh(x float64) (sinh, cosh float64) {
	e := math.Expm1(math.Abs(x))
	sinh = math.Copysign((e+e/(e+1))/2, x)
	return sinh, math.Sqrt(float64(sinh*sinh) + 1)
}

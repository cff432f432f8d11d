package prototype

import (
	"math"

	"bandwright/biquad"
)

// AllPassSum gives the all-pass that LP + sign·HP of a crossover is, for a
// low-pass and a high-pass of one family and order at w0 (rad/s); sign is 1
// where both ways have the same polarity, else -1. ok is false where that sum
// is no all-pass.
//
// LR of order 2m (J. Audio Eng. Soc. 24(1), 1976): with Bm the Butterworth
// polynomial, (1 + sign·s^2m)/Bm(s)² = Bm(-s)/Bm(s) for sign = (-1)^m, so that
// orders 2, 6 and 10 need the inversion.
//
// Butterworth of odd order n: Bn(s)·Bn(-s) = (1 + s^n)(1 - s^n), so that each
// zero of 1 + sign·s^n either cancels a pole or is the mirror image of one. The
// sum is an all-pass in either polarity, of order (n-1)/2 or (n+1)/2, whichever
// is even for sign 1 and odd for sign -1; for n = 1 and sign 1 it is 1 and has
// no sections. The pole pair at ±mπ/n from the negative real axis stays for odd
// m with sign 1 and for even m with sign -1, where the real pole stays too.
//
// No other family, and no Butterworth pair of even order, sums to an all-pass.
func AllPassSum(family string, order int, w0 float64, sign int) (sections []biquad.Analog, ok bool) {
	var unit []biquad.Analog
	switch {
	case family == lr.Name && order >= 2 && order%2 == 0:
		half := order / 2
		if (half%2 == 0) != (sign > 0) {
			return nil, false
		}
		if half%2 == 1 {
			unit = append(unit, mirrorZeros(single(1)))
		}
		for _, r := range butterworthDamping(half) {
			unit = append(unit, mirrorZeros(pair(1, r)))
		}
	case family == butterworth.Name && order >= 1 && order%2 == 1:
		first := 1
		if sign < 0 {
			unit = append(unit, mirrorZeros(single(1)))
			first = 2
		}
		for m := first; 2*m < order; m += 2 {
			unit = append(unit, mirrorZeros(pair(1, 2*math.Cos(float64(m)*math.Pi/float64(order)))))
		}
	default:
		return nil, false
	}
	return placed(unit, w0), true
}

// mirrorZeros is the all-pass with the section's poles.
func mirrorZeros(s biquad.Analog) biquad.Analog {
	s.B = s.A
	s.B[1] = -s.B[1]
	return s
}

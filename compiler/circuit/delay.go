package circuit

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// maxDelayPoles is the largest number of all-pass poles that Delay uses.
const maxDelayPoles = 24

// Delay is a pure delay as all-pass sections: the fewest poles whose phase is
// within rad (radians) of -w·seconds up to hz. They are those of the Bessel
// polynomial, whose delay is maximally flat: the Padé approximation of a delay
// (Storch, Proc. IRE 42, 1954). It fails where more than 24 poles would be
// needed.
func Delay(seconds, hz, rad float64) ([]biquad.Analog, error) {
	if !(seconds >= 0) || !(hz > 0) || !(rad > 0) || bad(seconds) || bad(hz) {
		return nil, fmt.Errorf("a delay of %g s up to %g Hz is no delay", seconds, hz)
	}
	w := 2 * math.Pi * hz
	if w*seconds <= rad {
		return nil, nil
	}
	var unit []biquad.Analog
	for n := 1; n <= maxDelayPoles; n++ {
		var err error
		if unit, err = besselAllPass(n); err != nil {
			return nil, err
		}
		if delayError(unit, w*seconds) <= rad {
			for i := range unit {
				unit[i].W0 /= seconds
				unit[i].Keep /= seconds
			}
			return unit, nil
		}
	}
	return nil, fmt.Errorf("a delay of %s up to %s takes more than %d all-pass poles; the maximum is %s",
		withUnit(seconds, "s"), withUnit(hz, "Hz"), maxDelayPoles, withUnit(longest(unit, rad)/w, "s"))
}

// longest is the largest product of angular frequency and delay at which
// all-passes for a delay of 1 s stay within rad, by bisection.
func longest(unit []biquad.Analog, rad float64) float64 {
	lo, hi := 0.0, 4.0*maxDelayPoles
	for range 40 {
		if mid := (lo + hi) / 2; delayError(unit, mid) <= rad {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// besselAllPass delays by 1 s with the poles of the reverse Bessel polynomial
// of degree n, Σ (2n-k)!/((n-k)!·k!·2ⁿ⁻ᵏ)·xᵏ with x = s/2.
func besselAllPass(n int) ([]biquad.Analog, error) {
	c := make([]float64, n+1)
	c[n] = 1
	for k := n - 1; k >= 0; k-- {
		// c[k]/c[k+1] = (2n-k)(k+1)/(2(n-k)).
		c[k] = c[k+1] * float64((2*n-k)*(k+1)) / float64(2*(n-k))
	}
	poles, err := biquad.Roots(c)
	if err != nil {
		return nil, err
	}
	var out []biquad.Analog
	for _, p := range poles {
		if imag(p) < 0 {
			continue
		}
		m := cmplx.Abs(p)
		if imag(p) == 0 {
			out = append(out, allPass1(2*m))
			continue
		}
		r := -2 * real(p) / m
		out = append(out, biquad.Analog{W0: 2 * m, Keep: 2 * m, B: [3]float64{1, -r, 1}, A: [3]float64{1, r, 1}})
	}
	return out, nil
}

// delayError is the largest phase error (rad) of all-passes for a delay of 1 s
// up to w (rad/s).
func delayError(unit []biquad.Analog, w float64) float64 {
	const steps = 64
	worst := 0.0
	for i := 1; i <= steps; i++ {
		x := w * float64(i) / steps
		h := biquad.Delay(x/(2*math.Pi), -1) // undone, so that what is left is the error
		for _, s := range unit {
			h *= s.At(x)
		}
		worst = math.Max(worst, math.Abs(cmplx.Phase(h)))
	}
	return worst
}

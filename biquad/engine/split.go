package engine

import (
	"math"

	"bandwright/biquad"
)

// almostReal is the share of a1² by which a discriminant may be negative and still be that of
// two equal real roots, which rounding put aside.
const almostReal = 1e-9

// Split is a path whose sections of the second order with real poles and real zeros are two
// of the first order each, and how many it has more. A root near 1 then hangs on one word
// by itself: in a section of the second order 1 + a1 + a2 is the product of two small
// distances from 1, of which words keep few digits. A position is split where all of its
// alternatives can be, and one of them has to be.
func Split(path biquad.Cascade[biquad.Digital]) (biquad.Cascade[biquad.Digital], int) {
	var slots []biquad.Slot[biquad.Digital]
	for _, s := range path.Slots {
		a, b, ok := splitSlot(s)
		if !ok {
			slots = append(slots, s)
			continue
		}
		slots = append(slots, a, b)
	}
	more := len(slots) - len(path.Slots)
	path.Slots = slots
	return path, more
}

func splitSlot(s biquad.Slot[biquad.Digital]) (a, b biquad.Slot[biquad.Digital], ok bool) {
	a, b = s, s
	a.Alt, b.Alt = nil, nil
	second := false
	for _, d := range s.Alt {
		one, two := d, biquad.Through(d.Form)
		if d.Order() == 2 {
			if one, two, ok = factors(d); !ok {
				return a, b, false
			}
			second = true
		}
		a.Alt, b.Alt = append(a.Alt, one), append(b.Alt, two)
	}
	return a, b, second
}

// factors are a section of the second order as two of the first: each pole with the zero
// next in line from z = 1, so that neither raises the level much. In powers of 1/(z-1) the roots near
// 1 keep their digits.
func factors(d biquad.Digital) (one, two biquad.Digital, ok bool) {
	d = d.To(biquad.Delta)
	if d.B[0] == 0 {
		return one, two, false
	}
	poles, realPoles := realRoots(d.A[1], d.A[2])
	zeros, realZeros := realRoots(d.B[1]/d.B[0], d.B[2]/d.B[0])
	section := func(k int, gain float64) biquad.Digital {
		return biquad.Digital{Form: biquad.Delta, B: [3]float64{gain, -gain * zeros[k]}, A: [3]float64{1, -poles[k]}}
	}
	return section(0, d.B[0]), section(1, 1), realPoles && realZeros
}

// realRoots are those of u² + b·u + c, that nearer to 0 first, without loss of digits (W. H. Press and
// others, Numerical Recipes, section 5.6).
func realRoots(b, c float64) (roots [2]float64, real bool) {
	half := b / 2
	square := half*half - c
	if square < -almostReal*half*half {
		return roots, false
	}
	q := -(half + math.Copysign(math.Sqrt(math.Max(0, square)), half))
	if q == 0 {
		return roots, true
	}
	return [2]float64{c / q, q}, true
}

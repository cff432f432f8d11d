package discretize

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// The frequencies at which the order of sections is judged: up to 20 kHz, or as
// far as the rate goes.
const (
	orderFromHz, orderToHz = 10, 20e3
	orderPerOctave         = 12
)

// inOrder is the order of the positions in which the signal's level inside the
// cascade rises least: each next position is the one that leaves the
// lowest peak, so that cuts come first and boosts last. Switched positions
// count with the greatest level of their alternatives. Ties keep the spec's
// order.
func inOrder(slots []biquad.Slot[biquad.Digital], rateHz float64) []int {
	var pts []biquad.Point
	for _, hz := range biquad.OctavesBelow(orderFromHz, min(orderToHz, 0.499*rateHz), orderPerOctave) {
		pts = append(pts, biquad.PointAt(hz, rateHz))
	}
	level := make([][]float64, len(slots))
	for k, s := range slots {
		level[k] = make([]float64, len(pts))
		for i, p := range pts {
			for _, a := range s.Alt {
				level[k][i] = max(level[k][i], cmplx.Abs(a.At(p)))
			}
		}
	}
	sofar := make([]float64, len(pts))
	for i := range sofar {
		sofar[i] = 1
	}
	left := make([]int, len(slots))
	for k := range left {
		left[k] = k
	}
	var out []int
	for len(left) > 0 {
		best, bestPeak := 0, math.Inf(1)
		for n, k := range left {
			peak := 0.0
			for i, g := range sofar {
				peak = max(peak, g*level[k][i])
			}
			// A part in 1e9 is rounding, not a reason to leave the spec's order.
			if peak < bestPeak*(1-1e-9) {
				best, bestPeak = n, peak
			}
		}
		k := left[best]
		for i := range sofar {
			sofar[i] *= level[k][i]
		}
		out = append(out, k)
		left = append(left[:best], left[best+1:]...)
	}
	return out
}

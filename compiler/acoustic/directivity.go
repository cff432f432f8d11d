package acoustic

import (
	"math"

	"bandwright/biquad"
)

// sphere are the nodes of an integral over all directions around the axis: degrees and
// weights that add up to 1, Gauss and Legendre's in the cosine of each half.
var sphere = func() (out []struct{ degrees, weight float64 }) {
	x, w := legendre(nodes)
	for _, half := range []float64{1, -1} {
		for i := range x {
			mu := half * (1 + x[i]) / 2
			out = append(out, struct{ degrees, weight float64 }{math.Acos(mu) * 180 / math.Pi, w[i] / 4})
		}
	}
	return out
}()

// nodes of each half: enough for ka = 20.
const nodes = 32

// legendre are the nodes in [-1, 1] and the weights of the rule of that many points, by
// Newton's method on the polynomial.
func legendre(n int) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	for i := range n {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		slope := 0.0
		for range 100 {
			p, before := 1.0, 0.0
			for k := range n {
				j := float64(k)
				p, before = ((2*j+1)*z*p-j*before)/(j+1), p
			}
			slope = float64(n) * (z*p - before) / (z*z - 1)
			next := z - p/slope
			if math.Abs(next-z) < 1e-15 {
				break
			}
			z = next
		}
		x[i], w[i] = z, 2/((1-z*z)*slope*slope)
	}
	return x, w
}

// Power is the mean of |p|² over all directions (Pa² at 1 m) of what has pressure
// p at so many degrees off the axis, alike around it.
func Power(p func(degrees float64) complex128) float64 {
	sum := 0.0
	for _, n := range sphere {
		sum += n.weight * biquad.Power(p(n.degrees))
	}
	return sum
}

// DirectivityDB is the directivity index (dB): how much more there is on the axis than
// in the mean of all directions.
func DirectivityDB(s Source, hz float64) float64 {
	mean := Power(func(degrees float64) complex128 { return s.Pressure(hz, degrees) })
	return 10 * math.Log10(biquad.Power(s.Pressure(hz, 0))/mean)
}

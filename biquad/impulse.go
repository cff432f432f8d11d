package biquad

import "math"

// l1Window is the number of samples between two looks at whether an impulse
// response has died away, l1Windows how many windows are waited for: a million
// samples, several seconds at any rate.
const (
	l1Window  = 4096
	l1Windows = 256
	l1Died    = 1e-9
)

// L1 is the sum of the magnitudes of a realised cascade's impulse response in
// combination c: the greatest output that any input inside ±1 can cause. The
// response is followed until a window of 4096 samples adds less than a
// billionth; one that still rings after a million samples is closed by a
// geometric tail. The result is finite for a stable cascade.
func L1(c Cascade[Digital], comb Combination) float64 {
	type section struct{ c, b0, b1, b2, a1, a2, p, q float64 }
	var ss []section
	for _, s := range c.Slots {
		d := s.Alt[s.Index(comb)]
		ss = append(ss, section{c: d.Form.Origin(), b0: d.B[0], b1: d.B[1], b2: d.B[2], a1: d.A[1], a2: d.A[2]})
	}
	total, window, before := 0.0, 0.0, 0.0
	x := c.Gain
	for range max(8, 64/max(1, len(ss))) {
		before, window = window, 0
		for range l1Window {
			v := x
			x = 0
			for i := range ss {
				s := &ss[i]
				y := float64(s.b0*v) + s.p
				s.p = float64(s.c*s.p) + (s.q + float64(s.b1*v) - float64(s.a1*y))
				s.q = float64(s.c*s.q) + (float64(s.b2*v) - float64(s.a2*y))
				v = y
			}
			window += math.Abs(v)
		}
		total += window
		if window <= l1Died*total {
			return total
		}
	}
	if ratio := window / before; ratio < 1 {
		total += window * ratio / (1 - ratio)
	}
	return total
}

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

// running is a realised section and its state.
type running struct{ c, b0, b1, b2, a1, a2, p, q float64 }

// started are a cascade's sections at rest.
func started(c Cascade[Digital], comb Combination) []running {
	var ss []running
	for i := range c.Slots {
		d := &c.Slots[i].Alt[c.Slots[i].Index(comb)]
		ss = append(ss, running{c: d.Form.Origin(), b0: d.B[0], b1: d.B[1], b2: d.B[2], a1: d.A[1], a2: d.A[2]})
	}
	return ss
}

// next takes one sample through sections.
func next(ss []running, v float64) float64 {
	for i := range ss {
		s := &ss[i]
		y := float64(s.b0*v) + s.p
		s.p = float64(s.c*s.p) + (s.q + float64(s.b1*v) - float64(s.a1*y))
		s.q = float64(s.c*s.q) + (float64(s.b2*v) - float64(s.a2*y))
		v = y
	}
	return v
}

// L1 is the sum of the magnitudes of a realised cascade's impulse response in
// combination c: the greatest output that any input inside ±1 can cause. The
// response is followed until a window of 4096 samples adds less than a
// billionth; one that still rings after a million samples is closed by a
// geometric tail. The result is finite for a stable cascade.
func L1(c Cascade[Digital], comb Combination) float64 {
	ss := started(c, comb)
	total, window, before := 0.0, 0.0, 0.0
	x := c.Gain
	for range max(8, 64/max(1, len(ss))) {
		before, window = window, 0
		for range l1Window {
			window += math.Abs(next(ss, x))
			x = 0
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

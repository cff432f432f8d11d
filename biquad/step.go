package biquad

import "math"

// StepDigital fills dst with a realised cascade's answer to samples that are 1 from the
// first on, in combination c, without its pure delay: the difference of neighbours is the
// answer to one sample. Words are exact, sums are rounded to 53 bits.
func StepDigital(dst []float64, c Cascade[Digital], comb Combination) {
	ss := started(c, comb)
	for n := range dst {
		dst[n] = next(ss, c.Gain)
	}
}

// AnalogStep is what an analog cascade makes of a step from 0 to 1, at times that go up.
// It has no error but that of rounding: between two times the input is constant, and the state
// moves by the exponential of the cascade's matrix.
type AnalogStep struct {
	slope [][]float64 // of the state over time (1/s), the constant input being its last element
	out   []float64   // the output as a sum over the state
	state []float64
	// move is the exponential of the slope times moveS (s).
	move  [][]float64
	moveS float64
}

// NewAnalogStep is a cascade at rest, in combination c, at the moment of the step and without its
// pure delay; ok is false where a section passes ever more towards high frequencies, so that a
// step makes an infinite peak of it.
func NewAnalogStep(c Cascade[Analog], comb Combination) (s *AnalogStep, ok bool) {
	type section struct {
		w0          float64
		a0, a1      float64 // over the coefficient of the highest power
		c0, c1, d   float64 // of the output
		order, from int
	}
	var all []section
	states := 0
	for i := range c.Slots {
		x := c.Slots[i].Alt[c.Slots[i].Index(comb)]
		n := 0
		for k := range x.A {
			if x.A[k] != 0 {
				n = k
			}
		}
		for k := n + 1; k < len(x.B); k++ {
			if x.B[k] != 0 {
				return nil, false
			}
		}
		top := x.A[n]
		e := section{w0: x.W0, d: x.B[n] / top, order: n, from: states}
		if n > 0 {
			e.a0, e.c0 = x.A[0]/top, x.B[0]/top-e.d*x.A[0]/top
		}
		if n > 1 {
			e.a1, e.c1 = x.A[1]/top, x.B[1]/top-e.d*x.A[1]/top
		}
		states += n
		all = append(all, e)
	}
	s = &AnalogStep{slope: square(states + 1), out: make([]float64, states+1), state: make([]float64, states+1)}
	s.out[states], s.state[states] = c.Gain, 1
	for _, e := range all {
		if e.order > 0 {
			last := s.slope[e.from+e.order-1]
			for j, v := range s.out {
				last[j] = e.w0 * v
			}
			last[e.from] -= e.w0 * e.a0
			if e.order > 1 {
				last[e.from+1] -= e.w0 * e.a1
				s.slope[e.from][e.from+1] = e.w0
			}
		}
		for j := range s.out {
			s.out[j] *= e.d
		}
		if e.order > 0 {
			s.out[e.from] += e.c0
		}
		if e.order > 1 {
			s.out[e.from+1] += e.c1
		}
	}
	return s, true
}

// Value is the output now.
func (s *AnalogStep) Value() float64 {
	y := 0.0
	for j, v := range s.out {
		y += float64(v * s.state[j])
	}
	return y
}

// Wait lets a time pass (s, ≥ 0). The same time as before costs less.
func (s *AnalogStep) Wait(seconds float64) {
	if s.move == nil || seconds != s.moveS {
		s.move, s.moveS = exponential(s.slope, seconds), seconds
	}
	after := make([]float64, len(s.state))
	for i, row := range s.move {
		for j, v := range row {
			if v != 0 {
				after[i] += float64(v * s.state[j])
			}
		}
	}
	s.state = after
}

func square(n int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

// The series of the exponential ends below a rounding of a matrix whose rows add up to seriesTo or less.
const (
	seriesTo    = 0.5
	seriesTerms = 15
)

// exponential is that of a matrix times t, by its series of a part of it that is squared again and again
// (C. Moler, C. Van Loan, "Nineteen dubious ways to compute the exponential of a matrix", SIAM Review 45,
// 2003, method 3).
func exponential(m [][]float64, t float64) [][]float64 {
	most := 0.0
	for _, row := range m {
		sum := 0.0
		for _, v := range row {
			sum += math.Abs(v * t)
		}
		most = math.Max(most, sum)
	}
	halvings := 0
	for ; most > seriesTo; most /= 2 {
		halvings++
	}
	t = math.Ldexp(t, -halvings)
	part, out := square(len(m)), square(len(m))
	for i := range m {
		out[i][i] = 1
		for j, v := range m[i] {
			part[i][j] = v * t
		}
	}
	term := out
	for k := 1; k <= seriesTerms; k++ {
		term = matrixProduct(term, part, 1/float64(k))
		next := square(len(m))
		for i := range next {
			for j := range next {
				next[i][j] = out[i][j] + term[i][j]
			}
		}
		out = next
	}
	for range halvings {
		out = matrixProduct(out, out, 1)
	}
	return out
}

// matrixProduct is a·b times a factor.
func matrixProduct(a, b [][]float64, times float64) [][]float64 {
	out := square(len(a))
	for i, row := range a {
		for k, v := range row {
			if v == 0 {
				continue
			}
			for j, w := range b[k] {
				out[i][j] += float64(float64(v*w) * times)
			}
		}
	}
	return out
}

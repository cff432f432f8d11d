package number

import "bandwright/biquad"

// settling is how many samples a changed position still runs with its old
// section: as many as a section of second order remembers.
const settling = 2

// floating is the kernel in floating point of the host's own type T. Every
// product is converted to T before it is added, which keeps Go from fusing.
type floating[T float32 | float64] struct {
	chains  []floatChain[T]
	choice  biquad.Combination // as last asked for
	running bool               // a sample has run since the last reset
	left    int                // samples until a switch is done
}

type floatChain[T float32 | float64] struct {
	gain  T
	line  []T // the delay, a ring
	at    int
	steps []floatStep[T]
}

// floatStep is one position: its alternatives and its state.
type floatStep[T float32 | float64] struct {
	slot   biquad.Slot[biquad.Digital]
	rows   []floatRow[T] // parallel to the alternatives
	use    int
	p, q   T
	x2, y2 T // what the first sample of a switch took and gave
}

type floatRow[T float32 | float64] struct{ c, b0, b1, b2, a1, a2 T }

func newFloat[T float32 | float64](chains []chain) kernel {
	k := &floating[T]{}
	for _, c := range chains {
		fc := floatChain[T]{gain: T(c.gain), line: make([]T, c.delay)}
		for i, s := range c.slots {
			step := floatStep[T]{slot: s}
			for _, r := range c.rows[i] {
				step.rows = append(step.rows, floatRow[T]{T(r.C), T(r.B0), T(r.B1), T(r.B2), T(r.A1), T(r.A2)})
			}
			fc.steps = append(fc.steps, step)
		}
		k.chains = append(k.chains, fc)
	}
	return k
}

func (k *floating[T]) reset() {
	for i := range k.chains {
		c := &k.chains[i]
		clear(c.line)
		c.at = 0
		for j := range c.steps {
			s := &c.steps[j]
			s.p, s.q = 0, 0
			s.use = s.slot.Index(k.choice)
		}
	}
	k.running, k.left = false, 0
}

func (k *floating[T]) set(c biquad.Combination) {
	k.choice = c
	if !k.running {
		k.reset()
		return
	}
	if k.left == 0 {
		k.left = settling
	}
}

func (k *floating[T]) run(in []float64, out [][]float64) {
	for n, x := range in {
		common := k.pass(&k.chains[0], T(x))
		for w := range out {
			out[w][n] = float64(k.pass(&k.chains[1+w], common))
		}
		if k.left > 0 {
			k.left--
		}
		k.running = true
	}
}

// pass takes one sample through one cascade.
func (k *floating[T]) pass(c *floatChain[T], x T) T {
	x = T(c.gain * x)
	if len(c.line) > 0 {
		x, c.line[c.at] = c.line[c.at], x
		c.at = (c.at + 1) % len(c.line)
	}
	for i := range c.steps {
		s := &c.steps[i]
		r := &s.rows[s.use]
		y := T(r.b0*x) + s.p
		s.p = T(r.c*s.p) + T(T(s.q+T(r.b1*x))-T(r.a1*y))
		s.q = T(T(r.c*s.q)+T(r.b2*x)) - T(r.a2*y)
		switch k.left {
		case 2:
			s.x2, s.y2 = x, y
		case 1:
			s.change(s.slot.Index(k.choice), x, y)
		}
		x = y
	}
	return x
}

// change goes over to the alternative next. From y = b0·x + p of both noted
// samples follow the p that the new section would have held then, from those
// its q, and running its recurrence over both samples gives the state now. A
// section of first order has no q.
func (s *floatStep[T]) change(next int, x1, y1 T) {
	if next == s.use {
		return
	}
	s.use = next
	r := &s.rows[next]
	e2 := s.y2 - T(r.b0*s.x2)
	e1 := y1 - T(r.b0*x1)
	if r.b2 == 0 && r.a2 == 0 {
		s.q = 0
		s.p = T(r.c*e1) + T(T(r.b1*x1)-T(r.a1*y1))
		return
	}
	q := T(e1-T(r.c*e2)) - T(T(r.b1*s.x2)-T(r.a1*s.y2))
	q = T(T(r.c*q)+T(r.b2*s.x2)) - T(r.a2*s.y2)
	s.p = T(r.c*e1) + T(T(q+T(r.b1*x1))-T(r.a1*y1))
	s.q = T(T(r.c*q)+T(r.b2*x1)) - T(r.a2*y1)
}

package biquad

import (
	"math"
	"math/cmplx"
)

// Section is what a cascade is made of.
type Section interface{ Analog | Digital }

// Combination is one choice for every setting of the spec: element i is the
// index of the choice of setting i.
type Combination []uint8

// Axis is one setting that a position depends on.
type Axis struct {
	Setting int // index into a Combination
	Choices int // how many choices the setting has
}

// Slot is one position of a cascade. Each alternative is stored once; Pick
// holds the alternative of every combination of the settings in By, in mixed
// radix with the last axis fastest. A fixed position has one alternative and
// no axes. In a cascade an alternative is a section; on a board it is stages.
type Slot[S any] struct {
	// From names the spec lines that the position realises, such as
	// "common[0] high-pass": of a fixed position all of them, of a switched one
	// element i the line of Alt[i].
	From []string
	Alt  []S
	By   []Axis
	Pick []uint8
	// Method names the method by which the position is to be digitised; "" is
	// the spec's.
	Method string
	// How says in a few words how a digital position was made.
	How string
	// Error is what the words of a number format cost a digital position.
	Error SectionError
}

// Fixed is a position without alternatives.
func Fixed[S any](s S, from ...string) Slot[S] {
	return Slot[S]{From: from, Alt: []S{s}}
}

// Index is the alternative that the combination picks.
func (s *Slot[S]) Index(c Combination) int {
	if len(s.By) == 0 {
		return 0
	}
	k := 0
	for _, ax := range s.By {
		k = k*ax.Choices + int(c[ax.Setting])
	}
	return int(s.Pick[k])
}

// Choices lists the choices of the settings in By that pick an alternative, one
// element an axis, in the order of Pick; none for a fixed position.
func (s *Slot[S]) Choices(alt int) [][]int {
	var out [][]int
	for i, k := range s.Pick {
		if int(k) != alt {
			continue
		}
		choices := make([]int, len(s.By))
		for a := len(s.By) - 1; a >= 0; a-- {
			choices[a] = i % s.By[a].Choices
			i /= s.By[a].Choices
		}
		out = append(out, choices)
	}
	return out
}

// Line is the spec line that an alternative realises: of a fixed position the
// first of its lines.
func (s *Slot[S]) Line(alt int) string { return s.From[min(alt, len(s.From)-1)] }

// Cascade is a chain of positions with a linear gain and a pure delay in
// seconds. Cascade[Analog] is a prototype, Cascade[Digital] a realisation,
// whose delay is a whole number of samples.
type Cascade[S Section] struct {
	Gain, DelayS float64
	Slots        []Slot[S]
}

// Axes returns the settings that the cascades depend on, in ascending order,
// each once.
func Axes[S Section](cs ...Cascade[S]) []Axis {
	var out []Axis
	for _, c := range cs {
		for _, s := range c.Slots {
			for _, ax := range s.By {
				at := 0
				for at < len(out) && out[at].Setting < ax.Setting {
					at++
				}
				if at < len(out) && out[at].Setting == ax.Setting {
					continue
				}
				out = append(out[:at], append([]Axis{ax}, out[at:]...)...)
			}
		}
	}
	return out
}

// Count is the number of combinations of the axes: 1 for none.
func Count(axes []Axis) int {
	n := 1
	for _, ax := range axes {
		n *= ax.Choices
	}
	return n
}

// Each calls f with every combination of the axes, the last axis fastest;
// settings outside the axes keep their default, index 0, of the given total
// number of settings. f must not keep the slice.
func Each(axes []Axis, settings int, f func(c Combination)) {
	c := make(Combination, settings)
	for {
		f(c)
		k := len(axes) - 1
		for k >= 0 {
			s := axes[k].Setting
			if c[s]++; int(c[s]) < axes[k].Choices {
				break
			}
			c[s] = 0
			k--
		}
		if k < 0 {
			return
		}
	}
}

// Responder gives a cascade's response at fixed frequencies for one
// combination after another. Combinations in the order of Each cost about one
// multiplication a frequency. It is not safe for concurrent use.
type Responder struct {
	base   []complex128 // gain, delay and fixed positions
	slots  []switched
	prefix [][]complex128 // product of base and the first k+1 switched positions
	last   []int          // alternative in prefix[k], -1 before the first use
}

type switched struct {
	index func(Combination) int
	alt   [][]complex128
}

// Response writes the response in combination c into dst, one element a
// frequency.
func (r *Responder) Response(dst []complex128, c Combination) {
	from, fresh := r.base, false
	for k, s := range r.slots {
		i := s.index(c)
		if fresh || r.last[k] != i {
			fresh = true
			r.last[k] = i
			for n, v := range s.alt[i] {
				r.prefix[k][n] = from[n] * v
			}
		}
		from = r.prefix[k]
	}
	copy(dst, from)
}

// OnAnalog prepares a prototype cascade's response at the frequencies hz (Hz).
func OnAnalog(c Cascade[Analog], hz []float64) *Responder {
	return newResponder(c, hz, func(s Analog, dst []complex128) {
		for i, f := range hz {
			dst[i] *= s.At(2 * math.Pi * f)
		}
	})
}

// OnDigital prepares a realised cascade's response at the frequencies hz (Hz)
// for the sampling rate rateHz (Hz).
func OnDigital(c Cascade[Digital], rateHz float64, hz []float64) *Responder {
	pts := make([]Point, len(hz))
	for i, f := range hz {
		pts[i] = PointAt(f, rateHz)
	}
	return newResponder(c, hz, func(s Digital, dst []complex128) { s.Multiply(dst, pts) })
}

// AnalogAt writes a prototype cascade's response in combination comb at the
// frequencies hz (Hz) into dst: for a few frequencies, without a Responder's
// tables.
func AnalogAt(dst []complex128, c Cascade[Analog], comb Combination, hz []float64) {
	for i, f := range hz {
		h := complex(c.Gain, 0) * Delay(f, c.DelayS)
		for k := range c.Slots {
			s := &c.Slots[k]
			h *= s.Alt[s.Index(comb)].At(2 * math.Pi * f)
		}
		dst[i] = h
	}
}

// DigitalAt is AnalogAt for a realised cascade at the sampling rate rateHz (Hz).
func DigitalAt(dst []complex128, c Cascade[Digital], comb Combination, rateHz float64, hz []float64) {
	pts := make([]Point, len(hz))
	for i, f := range hz {
		pts[i] = PointAt(f, rateHz)
		dst[i] = complex(c.Gain, 0) * Delay(f, c.DelayS)
	}
	for k := range c.Slots {
		s := &c.Slots[k]
		s.Alt[s.Index(comb)].Multiply(dst, pts)
	}
}

// newResponder tabulates a cascade; times multiplies dst by a section's response.
func newResponder[S Section](c Cascade[S], hz []float64, times func(s S, dst []complex128)) *Responder {
	r := &Responder{base: make([]complex128, len(hz))}
	for i, f := range hz {
		r.base[i] = complex(c.Gain, 0) * Delay(f, c.DelayS)
	}
	for _, s := range c.Slots {
		if len(s.By) == 0 {
			times(s.Alt[0], r.base)
			continue
		}
		sw := switched{index: s.Index}
		for _, a := range s.Alt {
			row := make([]complex128, len(hz))
			for i := range row {
				row[i] = 1
			}
			times(a, row)
			sw.alt = append(sw.alt, row)
		}
		r.slots = append(r.slots, sw)
		r.prefix = append(r.prefix, make([]complex128, len(hz)))
		r.last = append(r.last, -1)
	}
	return r
}

// Delay is exp(-j·2π·hz·seconds).
func Delay(hz, seconds float64) complex128 {
	if seconds == 0 {
		return 1
	}
	turns := hz * seconds
	s, c := math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
	return complex(c, -s)
}

// Joined is the cascade of two cascades, one behind the other.
func Joined[S Section](a, b Cascade[S]) Cascade[S] {
	slots := append(append([]Slot[S]{}, a.Slots...), b.Slots...)
	return Cascade[S]{Gain: a.Gain * b.Gain, DelayS: a.DelayS + b.DelayS, Slots: slots}
}

// floorDB is what a response of zero reads in decibels: no artefact may hold
// an infinity, and 600 dB lies below every response that float64 resolves.
const floorDB = -600

// Power is |z|², without the root that cmplx.Abs takes.
func Power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// DB is 20·lg|h|, at least -600 dB.
func DB(h complex128) float64 { return GainDB(cmplx.Abs(h)) }

// GainDB is 20·lg(gain) of a gain ≥ 0, at least -600 dB.
func GainDB(gain float64) float64 {
	if !(gain > 0) {
		return floorDB
	}
	return max(floorDB, 20*math.Log10(gain))
}

// DBPerNeper is 20/ln 10: the decibels of a small relative change of a gain.
const DBPerNeper = 8.685889638065036553

// FromDB is 10^(db/20). It goes through Exp2, whose result does not depend on
// the processor as Pow's does.
func FromDB(db float64) float64 { return math.Exp2(db / 20 * lg10) }

const lg10 = 3.32192809488736234787031942948939017586 // log2 10

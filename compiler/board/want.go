package board

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// want is a position of a chain before its topologies are chosen.
type want struct {
	role Role
	from []string          // of each alternative
	alts [][]biquad.Analog // the sections of each alternative: one of a fixed position, none for a wire
	by   []biquad.Axis
	pick []uint8
}

// mostSections is how many sections a board may have, every alternative of a
// setting counted: four times what a four-way takes, and 15 s of work.
const mostSections = 160

// tooMany is the problem of chains with more sections than a board may have.
func tooMany(chains [][]want) []Problem {
	n := 0
	for _, ws := range chains {
		for _, w := range ws {
			for _, a := range w.alts {
				n += len(a)
			}
		}
	}
	if n <= mostSections {
		return nil
	}
	return []Problem{{Message: fmt.Sprintf("its filters come to %d sections, and a board may have %d", n, mostSections),
		Right: "leave `board` out, or write the ways to several specs"}}
}

func (w want) fixed() bool { return len(w.by) == 0 }

// wants lists what a cascade asks for, and the gain that is left.
func wants(c biquad.Cascade[biquad.Analog]) (out []want, gain float64, problems []Problem) {
	gain = c.Gain
	for _, s := range c.Slots {
		w := want{role: FilterStage, from: s.From, by: s.By, pick: s.Pick}
		for i, a := range s.Alt {
			sections, err := circuit.Split(a)
			if err != nil {
				problems = append(problems, Problem{From: s.From[min(i, len(s.From)-1)], Message: "no op-amp stage can be this filter: " + err.Error(),
					Right: "change the filter, or leave `board` out"})
				continue
			}
			if a == biquad.Constant(1) {
				sections = nil
			}
			w.alts = append(w.alts, sections)
		}
		if !w.fixed() {
			out = append(out, w)
			continue
		}
		from := ""
		for i, f := range s.From {
			if i > 0 {
				from += ", "
			}
			from += f
		}
		for _, sections := range w.alts {
			for _, a := range sections {
				if a.Order() == 0 {
					gain *= a.B[0] / a.A[0]
					continue
				}
				out = append(out, want{role: FilterStage, from: []string{from}, alts: [][]biquad.Analog{{a}}})
			}
		}
	}
	return out, gain, problems
}

// delays lists the all-passes for a way's delay.
func delays(name string, seconds, toHz, rad float64) ([]want, *Problem) {
	if !(seconds > 0) || !(toHz > 0) {
		return nil, nil
	}
	sections, err := circuit.Delay(seconds, toHz, rad)
	if err != nil {
		return nil, &Problem{From: "ways." + name, Message: fmt.Sprintf("the delay of `%s` cannot be built of all-pass stages: %v", name, err),
			Right: "shorten the delay, move the driver instead, or leave `board` out"}
	}
	var out []want
	for _, s := range sections {
		out = append(out, want{role: DelayStage, from: []string{"ways." + name + " delay"}, alts: [][]biquad.Analog{{s}}})
	}
	return out, nil
}

// inOrder sorts the positions of a chain: what never rises above its input
// first, then by how far it rises, among equals the lower Q first. So no stage
// clips before one that would have cut, and a peak meets a signal that is
// already as small as it gets. Common practice in filter design, no one source.
func inOrder(ws []want) {
	type key struct{ rise, q float64 }
	keys := map[*biquad.Analog]key{}
	of := func(w want) key {
		var k key
		for _, alt := range w.alts {
			rise, q := 0.0, 0.0
			for i := range alt {
				one, ok := keys[&alt[i]]
				if !ok {
					one.rise, one.q = rises(alt[i]), sharpness(alt[i])
					keys[&alt[i]] = one
				}
				rise, q = rise+one.rise, math.Max(q, one.q)
			}
			k.rise, k.q = math.Max(k.rise, rise), math.Max(k.q, q)
		}
		return k
	}
	slices.SortStableFunc(ws, func(a, b want) int {
		x, y := of(a), of(b)
		switch {
		case x.rise != y.rise:
			return sign(x.rise - y.rise)
		default:
			return sign(x.q - y.q)
		}
	})
}

func sign(x float64) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// rises is the greatest level of a section in tenths of a decibel, 0 for one
// that never rises above its input.
func rises(s biquad.Analog) float64 {
	w, _ := s.Natural()
	if w == 0 {
		w = s.W0
	}
	peak := cmplx.Abs(s.At(0))
	for i := -32; i <= 32; i++ {
		peak = math.Max(peak, cmplx.Abs(s.At(w*math.Exp2(float64(i)/8))))
	}
	return math.Max(0, math.Round(10*biquad.GainDB(peak)))
}

// sharpness is the Q of a section's poles, rounded.
func sharpness(s biquad.Analog) float64 {
	_, q := s.Natural()
	return math.Round(100*q) / 100
}

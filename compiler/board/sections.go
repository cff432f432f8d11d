package board

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/stage"
)

// want is a position of a chain before its topologies are chosen: the sections of
// each alternative, one of a fixed position, none for a wire.
type want struct {
	role   Role
	behind stage.Behind
	biquad.Slot[[]biquad.Analog]
}

func (w want) fixed() bool { return len(w.By) == 0 }

// fixed is a position of one section.
func fixed(role Role, from string, s biquad.Analog) want {
	return want{role: role, Slot: biquad.Fixed([]biquad.Analog{s}, from)}
}

// mostSections is how many sections a board may have, every alternative of a
// setting counted: four times what a four-way takes, and 15 s of work.
const mostSections = 160

// tooMany is the obstacle of chains with more sections than a board may have.
func tooMany(chains [][]want) []Obstacle {
	n := 0
	for _, ws := range chains {
		for _, w := range ws {
			for _, a := range w.Alt {
				n += len(a)
			}
		}
	}
	if n <= mostSections {
		return nil
	}
	return []Obstacle{{Message: fmt.Sprintf("its filters need %d sections, and a board may have %d", n, mostSections),
		Right: "split the ways over several specs"}}
}

// chains lists what the common stages and every way ask for, in the order that they are
// built in, and the gain that each way has to have beside: its own, and that of the
// common stages. It settles the delays of the board and of its ways.
func (b *Board) chains(j Job) (chains [][]want, gains []float64, obstacles []Obstacle) {
	common, commonGain, obstacles := wants(j.System.Common, j.Wishes)
	chains = append(chains, common)
	least := math.Inf(1)
	for _, w := range j.System.Ways {
		least = math.Min(least, w.DelayS)
	}
	b.DelayS = 0 - (j.System.Common.DelayS + least) // 0 - 0 is not -0
	for k, w := range j.System.Ways {
		own, g, more := wants(w.Cascade, j.Wishes)
		obstacles = append(obstacles, more...)
		late, obstacle := delays(w.Name, w.DelayS-least, j.DelayToHz[k], j.DelayRad)
		if obstacle != nil {
			obstacles = append(obstacles, *obstacle)
		}
		way := Way{Name: w.Name}
		if len(late) > 0 {
			way.DelayS = w.DelayS - least
		}
		b.Ways = append(b.Ways, way)
		chains, gains = append(chains, append(own, late...)), append(gains, g*w.Polarity*commonGain)
	}
	for _, ws := range chains {
		inOrder(ws)
	}
	if len(obstacles) == 0 {
		obstacles = tooMany(chains)
	}
	return chains, gains, obstacles
}

// wants lists what a cascade asks for, and the gain that is left. What does nothing is a wire, unless its filter wishes for a
// topology.
func wants(c biquad.Cascade[biquad.Analog], wishes map[string]string) (out []want, gain float64, obstacles []Obstacle) {
	gain = c.Gain
	for _, s := range c.Slots {
		w := want{role: FilterStage, Slot: biquad.Slot[[]biquad.Analog]{From: s.From, By: s.By, Pick: s.Pick}}
		for i, a := range s.Alt {
			sections, err := circuit.Split(a)
			if err != nil {
				obstacles = append(obstacles, Obstacle{From: s.Line(i), Message: "no op-amp stage can realise this filter: " + err.Error(),
					Right: "change the filter"})
				continue
			}
			if a == biquad.Constant(1) || passes(a) && wishes[s.Line(i)] == "" {
				sections = nil
			}
			w.Alt = append(w.Alt, sections)
		}
		if !w.fixed() {
			out = append(out, w)
			continue
		}
		from := strings.Join(s.From, ", ")
		for _, a := range slices.Concat(w.Alt...) {
			if a.Order() == 0 {
				gain *= a.B[0] / a.A[0]
				continue
			}
			out = append(out, fixed(FilterStage, from, a))
		}
	}
	return out, gain, obstacles
}

// passes reports whether a section lets everything pass as it is, as a shelf or a peak of 0 dB of either order does: a wire
// is that. Its zeros are its poles, but for round-off.
func passes(s biquad.Analog) bool {
	const roundOff = 1e-12
	largest := math.Max(math.Abs(s.A[0]), math.Max(math.Abs(s.A[1]), math.Abs(s.A[2])))
	for k := range s.A {
		if !(math.Abs(s.B[k]-s.A[k]) <= roundOff*largest) {
			return false
		}
	}
	return true
}

// delays lists the all-passes for a way's delay.
func delays(name string, seconds, toHz, rad float64) ([]want, *Obstacle) {
	if !(seconds > 0) || !(toHz > 0) {
		return nil, nil
	}
	sections, err := circuit.Delay(seconds, toHz, rad)
	if err != nil {
		return nil, &Obstacle{From: "ways." + name, Message: fmt.Sprintf("the delay of `%s` cannot be built from all-pass stages: %v", name, err),
			Right: "shorten the delay, or move the driver instead"}
	}
	var out []want
	for _, s := range sections {
		out = append(out, fixed(DelayStage, "ways."+name+" delay", s))
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
		for _, alt := range w.Alt {
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
		return cmp.Or(cmp.Compare(x.rise, y.rise), cmp.Compare(x.q, y.q))
	})
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

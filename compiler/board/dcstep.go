package board

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// DCStep is the greatest change of the DC voltage at a way's last stage between two choices
// of a setting, with all other settings at their default.
type DCStep struct {
	Setting, From, To, Way int
	// WorstV has every offset and bias current at its worst sign. TypicalV has a third of
	// each, which is their standard deviation where a limit is three of them, and adds
	// them as what is random does.
	WorstV, TypicalV float64
}

// DCSteps lists the step of each setting that a selector depends on, of so many settings: the
// greatest of any two choices and of any way. An op-amp that is on the way in both has the
// same offset before and after, so that only what differs in its gain to the output counts.
func (b *Board) DCSteps(settings int) []DCStep {
	choices := make([]int, settings)
	for _, c := range b.Chains() {
		for _, p := range c.Positions {
			for _, ax := range p.By {
				choices[ax.Setting] = ax.Choices
			}
		}
	}
	var out []DCStep
	for set, n := range choices {
		if n == 0 {
			continue
		}
		var at [][][][3]float64 // by choice, way and op-amp
		for k := range n {
			c := make(biquad.Combination, settings)
			c[set] = uint8(k)
			at = append(at, b.signedOffsets(c))
		}
		best := DCStep{Setting: set, To: 1}
		for i := range at {
			for k := range i {
				for way := range at[i] {
					if worst, typical := step(at[k][way], at[i][way]); worst > best.WorstV {
						best = DCStep{set, k, i, way, worst, typical}
					}
				}
			}
		}
		out = append(out, best)
	}
	return out
}

// step is what the voltages that op-amps make change by.
func step(a, b [][3]float64) (worst, typical float64) {
	square := 0.0
	for i := range a {
		for k := range a[i] {
			d := b[i][k] - a[i][k]
			worst += math.Abs(d)
			square += d * d
		}
	}
	return worst, math.Sqrt(square) / 3
}

// signedOffsets are what every op-amp makes of the DC voltage at each way's last stage in a
// combination, none of a way where its equations have no solution.
func (b *Board) signedOffsets(c biquad.Combination) [][][3]float64 {
	s := b.wiring.in(c)
	out := make([][][3]float64, len(b.Ways))
	for k := range b.Ways {
		node := b.Ways[k].In
		if n := len(b.Ways[k].Positions); n > 0 {
			node = b.Ways[k].Positions[n-1].Out
		}
		o, err := s.Offsets(b.Node(node))
		if err != nil {
			o.Signed = make([][3]float64, b.PartCount())
		}
		out[k] = slices.Clone(o.Signed)
	}
	return out
}

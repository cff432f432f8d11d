package board

import (
	"math"

	"bandwright/biquad"
)

// DCStep is the greatest change of the DC voltage behind a selector between two choices of a
// setting that works it, with all other settings at their default. What follows lets it pass
// as a thump even where it blocks DC.
type DCStep struct {
	Setting, From, To int
	Selector          string
	// WorstV has every offset and bias current at its worst sign. TypicalV has a third of
	// each, which is their standard deviation where a limit is three of them, and adds
	// them as what is random does.
	WorstV, TypicalV float64
}

// DCSteps lists the steps of every setting behind every selector that it works, of so many
// settings: the greatest of any two choices. An op-amp that is on the way in both has the
// same offset before and after, so that only what differs in its gain counts.
func (b *Board) DCSteps(settings int) []DCStep {
	var out []DCStep
	for _, c := range b.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			for _, ax := range p.By {
				out = append(out, b.dcStep(p, ax, settings))
			}
		}
	}
	return out
}

// dcStep is the greatest step behind one selector.
func (b *Board) dcStep(p *Position, ax biquad.Axis, settings int) DCStep {
	best := DCStep{Setting: ax.Setting, To: 1, Selector: p.Selector}
	var at [][][3]float64 // by choice and op-amp
	for k := range ax.Choices {
		c := make(biquad.Combination, settings)
		c[ax.Setting] = uint8(k)
		s := b.wiring.in(c)
		o, err := s.Offsets(b.Node(p.Out))
		if err != nil {
			o.Signed = make([][3]float64, b.PartCount())
		}
		at = append(at, o.Signed)
		for i := range k {
			if worst, typical := step(at[i], at[k]); worst > best.WorstV {
				best.From, best.To, best.WorstV, best.TypicalV = i, k, worst, typical
			}
		}
	}
	return best
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

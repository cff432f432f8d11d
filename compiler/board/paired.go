package board

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// paired is a position of a section and its reciprocal, and perhaps nothing, as one stage of two
// op-amps of which the selector picks what feeds the filter; nil where it is something else, or no
// values come close.
func (c *chooser) paired(w want) []*Stage {
	sections, which, ok := different(w.Alt)
	if !ok || !c.free(w) {
		return nil
	}
	x, err := c.bench.Paired(sections, slices.Contains(which, len(sections)), pool, c.behind, switchedShare*c.limitDB)
	if x == nil || err != nil {
		return nil
	}
	return c.pairedStates(w, x, which, pairedSets(sections), "one filter for both, which the selector feeds with the stage's input or its output; the worst is "+words.Error(x.WorstDB(), "dB")+" off")
}

// setsOf lists other values of a stage that a selector switches, like those that it has.
type setsOf func(b *stage.Bench, like []float64, n int) [][]float64

func pairedSets(sections []biquad.Analog) setsOf {
	return func(b *stage.Bench, like []float64, n int) [][]float64 { return b.PairedSets(sections, like, n) }
}

// pairedStates are the alternatives of a position that are states of one filter, with one set of values.
func (c *chooser) pairedStates(w want, x *stage.Summed, which []int, sets setsOf, why string) []*Stage {
	body := &Stage{Role: w.role, Switches: true, Candidate: stage.Candidate{Topology: x.Topology, Values: x.Values}}
	body.variety = &variety{sets: sets}
	var out []*Stage
	for k, i := range which {
		s := x.States[i]
		s.Values = slices.Clone(s.Values)
		out = append(out, stateOf(c.roleOf(w, k), w.Line(k), s, body, x.Switched.States[i].Throw, why))
	}
	return out
}

// heldPaired are the states of a held switched-pair for what a position is asked for; where one is too
// far off with the held parts the fewest others that do. It is nil where that takes more.
func (c *chooser) heldPaired(w want, p *language.HeldPlace, partner []int) []*Stage {
	held, sections, which := c.heldAsked(w, p, partner)
	flat := slices.Contains(which, len(sections))
	if sections == nil || circuit.PairOf(sections) == nil {
		return nil
	}
	values, ok := valuesOf(circuit.SwitchedPair(sections, flat).Topology, &p.Alternatives[0][0])
	if !ok {
		return nil
	}
	x, err := c.bench.PairedWith(sections, flat, values, c.behind)
	if err != nil {
		return nil
	}
	gone := c.misses(&p.Alternatives[0][0])
	for i, s := range sections {
		s.Keep = held[i].Keep // of no matter here, and not in the file
		gone = gone || s != held[i] && x.States[i].RealDB > switchedShare*c.limitDB
	}
	if gone {
		if values = c.bench.Repaired(sections, flat, values, pool, c.behind, switchedShare*c.limitDB); values == nil {
			return nil
		}
		if x, err = c.bench.PairedWith(sections, flat, values, c.behind); err != nil {
			return nil
		}
	}
	return c.pairedStates(w, x, which, pairedSets(sections), "it is held")
}

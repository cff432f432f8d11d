package board

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// tappedFilter is a position of several strengths of one shelf or peak, and perhaps nothing, as one stage of
// two op-amps of which the selector picks the tap that feeds the filter; nil where it is something else, or no
// values come close.
func (c *chooser) tappedFilter(w want) []*Stage {
	sections, which, ok := different(w.Alt)
	if !ok || !c.free(w) {
		return nil
	}
	x, err := c.bench.TappedFilter(sections, c.behind, switchedShare*c.limitDB)
	if x == nil || err != nil {
		return nil
	}
	why := words.Count(len(sections), "strength", "strengths") + " of one filter, which the selector feeds from a tap between the stage's input and output; the worst is " + words.Error(x.WorstDB(), "dB") + " off"
	return c.pairedStates(w, x, which, tappedFilterSets(sections), why)
}

func tappedFilterSets(sections []biquad.Analog) setsOf {
	return func(b *stage.Bench, like []float64, n int) [][]float64 { return b.TappedFilterSets(sections, like, n) }
}

// heldTappedFilter are the states of a held tapped-filter for what a position is asked for; where one is too far
// off with the held parts the fewest others that do. It is nil where no such stage has them all.
func (c *chooser) heldTappedFilter(w want, p *language.HeldPlace, partner []int) []*Stage {
	held, sections, which := c.heldAsked(w, p, partner)
	if sections == nil {
		return nil
	}
	s := circuit.TappedFilter(sections)
	if s == nil || !slices.Equal(circuit.TapsOf(sections), circuit.TapsOf(held)) {
		return nil
	}
	values, ok := valuesOf(s.Topology, &p.Alternatives[0][0])
	if !ok {
		return nil
	}
	x, err := c.bench.TappedFilterWith(sections, values, c.behind)
	if err != nil {
		return nil
	}
	gone := c.misses(&p.Alternatives[0][0])
	for i, s := range sections {
		s.Keep = held[i].Keep // of no matter here, and not in the file
		gone = gone || s != held[i] && x.States[i].RealDB > switchedShare*c.limitDB
	}
	if gone {
		if values = c.bench.Retuned(sections, values, c.behind, switchedShare*c.limitDB); values == nil {
			return nil
		}
		if x, err = c.bench.TappedFilterWith(sections, values, c.behind); err != nil {
			return nil
		}
	}
	return c.pairedStates(w, x, which, tappedFilterSets(sections), "it is held")
}

// worstScore is what speaks against the worst of some states.
func worstScore(states []*Stage) float64 {
	most := 0.0
	for _, s := range states {
		most = max(most, s.Score)
	}
	return most
}

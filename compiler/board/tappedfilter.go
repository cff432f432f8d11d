package board

import (
	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// tapKinds are the stages of which a selector picks the tap that feeds a filter, by their names.
var tapKinds = map[string]*circuit.Taps{circuit.TappedFilterName: circuit.TappedFilter, circuit.TappedShelfName: circuit.TappedShelf}

// taps is a position of several strengths of one shelf or peak, and perhaps nothing, as one stage of which the
// selector picks the tap that feeds the filter; nil where it is something else, or no values come close.
func (c *chooser) taps(of *circuit.Taps, w want) []*Stage {
	sections, which, ok := different(w.Alt)
	if !ok || !c.free(w) {
		return nil
	}
	x, err := c.bench.Taps(of, sections, c.behind, switchedShare*c.limitDB)
	if x == nil || err != nil {
		return nil
	}
	why := words.Count(len(sections), "strength", "strengths") + " of one filter, which the selector feeds from a tap between the stage's input and output; the worst is " + words.Error(x.WorstDB(), "dB") + " off"
	return c.pairedStates(w, x, which, tapsSets(of, sections), why)
}

func tapsSets(of *circuit.Taps, sections []biquad.Analog) setsOf {
	return func(b *stage.Bench, like []float64, n int) [][]float64 { return b.TapsSets(of, sections, like, n) }
}

// heldTaps are the states of a held stage of tapKinds for what a position is asked for; where one is too far
// off with the held parts the fewest others that do. It is nil where no such stage has them all.
func (c *chooser) heldTaps(of *circuit.Taps, w want, p *language.HeldPlace, partner []int) []*Stage {
	held, sections, which := c.heldAsked(w, p, partner)
	if sections == nil {
		return nil
	}
	if !of.Alike(sections, held) {
		return nil
	}
	values, ok := valuesOf(of.Stage(sections).Topology, &p.Alternatives[0][0])
	if !ok {
		return nil
	}
	x, err := c.bench.TapsWith(of, sections, values, c.behind)
	if err != nil {
		return nil
	}
	gone := c.misses(&p.Alternatives[0][0])
	for i, s := range sections {
		s.Keep = held[i].Keep // of no matter here, and not in the file
		gone = gone || s != held[i] && x.States[i].RealDB > switchedShare*c.limitDB
	}
	if gone {
		if values = c.bench.Retuned(of, sections, values, c.behind, switchedShare*c.limitDB); values == nil {
			return nil
		}
		if x, err = c.bench.TapsWith(of, sections, values, c.behind); err != nil {
			return nil
		}
	}
	return c.pairedStates(w, x, which, tapsSets(of, sections), "it is held")
}

// worstScore is what speaks against the worst of some states.
func worstScore(states []*Stage) float64 {
	most := 0.0
	for _, s := range states {
		most = max(most, s.Score)
	}
	return most
}

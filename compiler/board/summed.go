package board

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// different are the sections that a position picks one of, in the order of its alternatives, and
// which of them each alternative is, len(sections) for nothing. It is false where one has several.
func different(alternatives [][]biquad.Analog) (sections []biquad.Analog, which []int, ok bool) {
	for _, a := range alternatives {
		if len(a) > 1 {
			return nil, nil, false
		}
		if len(a) == 1 && !slices.Contains(sections, a[0]) {
			sections = append(sections, a[0])
		}
	}
	for _, a := range alternatives {
		k := len(sections)
		if len(a) == 1 {
			k = slices.Index(sections, a[0])
		}
		which = append(which, k)
	}
	return sections, which, len(sections) > 1
}

// summed is a position of several sections, and perhaps nothing, as one summing stage of which
// the selector picks the filter that is added; nil where it is something else, or no values come
// close.
func (c *chooser) summed(w want) []*Stage {
	sections, which, ok := different(w.Alt)
	if !ok || !c.free(w) {
		return nil
	}
	x, err := c.bench.Summed(sections, pool, c.behind, switchedShare*c.limitDB)
	if x == nil || err != nil {
		return nil
	}
	return c.summedStates(w, x, sections, which, words.Count(len(sections), "filter", "filters")+" and one sum, to which the selector adds one of them; the worst is "+words.Error(x.WorstDB(), "dB")+" off")
}

// summedStates are the alternatives of a position of sections that are added.
func (c *chooser) summedStates(w want, x *stage.Summed, sections []biquad.Analog, which []int, why string) []*Stage {
	body := &Stage{Role: w.role, Switches: true, Candidate: stage.Candidate{Topology: x.Topology, Values: x.Values}}
	varieties := make([]*variety, len(sections)+1)
	var out []*Stage
	for k, i := range which {
		s := x.States[i]
		s.Values = slices.Clone(s.Values)
		state := stateOf(c.roleOf(w, k), w.Line(k), s, body, x.Switched.States[i].Throw, why)
		if varieties[i] == nil {
			varieties[i] = summedVariety(sections, i, len(x.Values))
		}
		state.variety = varieties[i]
		out = append(out, state)
	}
	return out
}

// heldSections are those of the states of a held switched-sum or switched-pair, in the order of its
// parts, and which of them each state is.
func heldSections(p *language.HeldPlace) (sections []biquad.Analog, which []int, ok bool) {
	var all [][]biquad.Analog
	for _, a := range p.Alternatives {
		own := ownSection(&a[0])
		if own.Order() == 0 {
			all = append(all, nil)
		} else {
			all = append(all, []biquad.Analog{own})
		}
	}
	return different(all)
}

// heldAsked are the sections of a held switched-sum or switched-pair, in the order of its parts, what
// they are asked to be now, and which of them each alternative is; nil where a stage with other filters
// or states is asked for.
func (c *chooser) heldAsked(w want, p *language.HeldPlace, partner []int) (held, sections []biquad.Analog, which []int) {
	held, was, ok := heldSections(p)
	if !ok || !c.free(w) {
		return nil, nil, nil
	}
	sections, which = slices.Clone(held), make([]int, len(w.Alt))
	set := make([]bool, len(held))
	for k, asked := range w.Alt {
		i := was[partner[k]]
		which[k] = i
		switch {
		case len(asked) > 1 || (len(asked) == 0) != (i == len(held)):
			return nil, nil, nil
		case len(asked) == 0:
		case set[i] && sections[i] != asked[0] || circuit.SummedOf(asked[0]) != circuit.SummedOf(held[i]):
			return nil, nil, nil
		default:
			sections[i], set[i] = asked[0], true
		}
	}
	return held, sections, which
}

// heldSummed are the states of a held switched-sum for what a position is asked for; what is too
// far off with the held parts gets others, the fewest that do. It is nil where that takes more.
func (c *chooser) heldSummed(w want, p *language.HeldPlace, partner []int) []*Stage {
	held, sections, which := c.heldAsked(w, p, partner)
	if sections == nil {
		return nil
	}
	s := circuit.SwitchedSum(sections)
	if s == nil {
		return nil
	}
	values, ok := valuesOf(s.Topology, &p.Alternatives[0][0])
	if !ok {
		return nil
	}
	x, err := c.bench.SummedWith(sections, values, c.behind)
	if err != nil {
		return nil
	}
	for i := range sections {
		moved := sections[i]
		moved.Keep = held[i].Keep // of no matter here, and not in the file
		if c.missesOf(s, sections, i, values) || moved != held[i] && x.States[i].RealDB > switchedShare*c.limitDB {
			if values = c.bench.Resummed(sections, i, values, pool, c.behind, switchedShare*c.limitDB); values == nil {
				return nil
			}
		}
	}
	if x, err = c.bench.SummedWith(sections, values, c.behind); err != nil {
		return nil
	}
	return c.summedStates(w, x, sections, which, "it is held")
}

// missesOf reports whether a value of the i-th section of a sum can not be had any more.
func (c *chooser) missesOf(s *circuit.Switched, sections []biquad.Analog, i int, values []float64) bool {
	return c.lost != nil && slices.ContainsFunc(circuit.SummedParts(sections, i), func(at int) bool { return c.lost(s.Parts()[at].Kind, values[at]) })
}

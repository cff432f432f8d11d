package board

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/stage"
	"bandwright/compiler/words"
)

// A switched position whose selector switches an element of one stage has an alternative
// for each state of it: stages of their own as far as responses go, with the Body that
// they share as far as parts go.

// switchedShare is the share of what is promised of a way that one switched stage may be
// off: its values are chosen by themselves, and others make up for them in one position only.
const switchedShare = 0.4

// poleOhm holds the input behind a tap where the selector is between two: far above the
// string, far below what bias currents turn into volts.
const poleOhm = 100e3

// stateOf is a stage that is one state of a switched one.
func stateOf(role Role, from string, o stage.Candidate, body *Stage, throw, why string) *Stage {
	return &Stage{Role: role, From: from, Candidate: o, Own: o.Section, Why: why, Body: body, Throw: throw}
}

// switched lays a position out as one stage of which the selector switches an element, or
// reports that none can be it.
func (c *chooser) switched(w want) (layout, bool) {
	if w.fixed() {
		return layout{}, false
	}
	if states := c.tapped(w); states != nil {
		return c.states(w, states), true
	}
	if states := c.paired(w); states != nil {
		return c.states(w, states), true
	}
	var best []*Stage
	slopes := c.taps(circuit.TappedShelf, w)
	for _, states := range [][]*Stage{slopes, c.taps(circuit.TappedFilter, w), c.summed(w)} {
		if states != nil && (best == nil || worstScore(states) < worstScore(best)) {
			best = states
		}
	}
	if best != nil {
		l := c.states(w, best)
		if slopes != nil {
			l.orWhole(c.whole(w))
		}
		return l, true
	}
	all := c.opened(w)
	if all == nil {
		return layout{}, false
	}
	l := c.states(w, all[0])
	k := signOf(all[0][0].Level)
	for _, other := range all[1:] {
		// Another topology of the other polarity, where that is cheaper than to turn the first.
		if x := c.states(w, other); signOf(other[0].Level) != k && x.one[1-k].cost < l.one[1-k].cost {
			l.alts[1-k], l.one[1-k] = x.alts[1-k], x.one[1-k]
		}
	}
	return l, true
}

// orWhole takes whole stages in a polarity in which these have fewer points. A first-order shelf is one quiet
// op-amp, so that a pair of them is not worth an inverting stage behind what does both.
func (l *layout) orWhole(whole layout, obstacle *Obstacle) {
	for k := range l.one {
		if obstacle == nil && whole.one[k].ok && whole.one[k].cost < l.one[k].cost {
			l.alts[k], l.one[k] = whole.alts[k], whole.one[k]
		}
	}
}

// states is the layout of a switched stage, and in the other polarity with an inverting
// stage behind it.
func (c *chooser) states(w want, states []*Stage) layout {
	l := layout{want: w}
	k := signOf(states[0].Level)
	inverter := c.exactly(w.Line(0), -1)
	// What is built once costs what its worst state does.
	most := 0.0
	body := states[0].Body
	body.Section, body.Own, body.Level = states[0].Section, states[0].Section, states[0].Level
	for _, s := range states {
		most, body.RealDB = math.Max(most, s.Score), math.Max(body.RealDB, s.RealDB)
		b := built{ok: true, stages: []*Stage{s}, level: math.Copysign(1, s.Level)}
		l.alts[k] = append(l.alts[k], b)
		l.alts[1-k] = append(l.alts[1-k], then(b, inverter))
	}
	l.total()
	l.one[k].cost = most
	l.one[1-k].cost = most + inverter.cost
	return l
}

// gainsOf are the gains of a position's alternatives, nil where one of them is something else.
func gainsOf(w want) []float64 {
	var out []float64
	for _, sections := range w.Alt {
		g := 1.0
		for _, s := range sections {
			if s.Order() != 0 {
				return nil
			}
			g *= s.B[0] / s.A[0]
		}
		if !(g > 0) {
			return nil
		}
		out = append(out, g)
	}
	return out
}

// taps are different gains, the largest first, and the tap of each of a list.
func taps(gains []float64) (different []float64, tap []int) {
	different = slices.Clone(gains)
	slices.SortFunc(different, func(a, b float64) int { return cmp.Compare(b, a) })
	different = slices.CompactFunc(different, func(a, b float64) bool { return math.Abs(a/b-1) < 1e-9 })
	for _, g := range gains {
		tap = append(tap, slices.IndexFunc(different, func(x float64) bool { return math.Abs(x/g-1) < 1e-9 }))
	}
	return different, tap
}

// tapped is a position of gains as one amplifier behind a string of resistors, of which the
// selector picks the tap; nil where it is something else, or no values come close.
func (c *chooser) tapped(w want) []*Stage {
	gains := gainsOf(w)
	if gains == nil || !c.free(w) {
		return nil
	}
	different, tap := taps(gains)
	if len(different) < 2 {
		return nil
	}
	s, values, worst := c.bench.Tapped(different, poleOhm)
	if s == nil || worst > switchedShare*c.limitDB {
		return nil
	}
	why := fmt.Sprintf("%s with one op-amp, picked by a tap; the worst of them is %s off", words.Count(len(different), "gain", "gains"), words.Error(worst, "dB"))
	return c.tappedStates(w, s, values, gains, tap, why)
}

// tappedStates are the alternatives of a position of gains.
func (c *chooser) tappedStates(w want, s *circuit.Switched, values, gains []float64, tap []int, why string) []*Stage {
	body := &Stage{Role: w.role, Switches: true, Candidate: stage.Candidate{Topology: s.Topology, Values: values}}
	different, _ := taps(gains)
	body.variety = &variety{sets: func(b *stage.Bench, like []float64, n int) [][]float64 { return b.TappedSets(s, different, like, n) }}
	var out []*Stage
	for k, g := range gains {
		state := s.States[tap[k]]
		o := []stage.Candidate{{Topology: state.Topology, Section: biquad.Constant(g), Values: slices.Clone(values), Level: 1}}
		if c.bench.Measure(o) != nil {
			return nil
		}
		out = append(out, stateOf(c.roleOf(w, k), w.Line(k), o[0], body, state.Throw, why))
	}
	return out
}

// roleOf is the role of an alternative: one that stands for no filter only keeps the level.
func (c *chooser) roleOf(w want, alt int) Role {
	if len(w.Alt[alt]) == 0 {
		return GainStage
	}
	return w.role
}

// free reports that no filter of a position names a topology.
func (c *chooser) free(w want) bool {
	for k := range w.Alt {
		if c.wish(w.Line(k)) != nil {
			return false
		}
	}
	return true
}

// opened is a position of one section or nothing as one stage with an element that the
// selector opens, the best topology first; nil where it is something else, or no such stage
// will do.
func (c *chooser) opened(w want) [][]*Stage {
	on, ok := onlyOne(w)
	if !ok {
		return nil
	}
	from, section := w.Line(on), w.Alt[on][0]
	var topologies []*circuit.Topology
	for _, t := range circuit.Topologies {
		if wish := c.wish(from); t.Opens != "" && t.Can(asked(section).Shape) && (wish == nil || wish == t) {
			topologies = append(topologies, t)
		}
	}
	all, err := c.bench.Opened(section, topologies, pool, c.behind, switchedShare*c.limitDB)
	var out [][]*Stage
	for _, o := range all {
		if err == nil && o.On.RealDB <= switchedShare*c.limitDB {
			out = append(out, c.openedStates(w, on, o, fmt.Sprintf("the selector opens %s of it, without which it is flat", o.Element)))
		}
	}
	return out
}

// onlyOne is the alternative of a position that has a section where every other has none.
func onlyOne(w want) (on int, ok bool) {
	on = -1
	for k, sections := range w.Alt {
		switch {
		case len(sections) == 0:
		case on >= 0 || len(sections) > 1:
			return 0, false
		default:
			on = k
		}
	}
	return on, on >= 0 && len(w.Alt) > 1
}

// openedStates are the alternatives of a position with an element that is opened.
func (c *chooser) openedStates(w want, on int, o stage.Opened, why string) []*Stage {
	body := &Stage{Role: w.role, Switches: true, Candidate: stage.Candidate{Topology: o.Topology, Values: o.On.Values}}
	if t, ok := circuit.ByName(o.Topology.Name); ok {
		body.variety = &variety{sets: func(b *stage.Bench, _ []float64, n int) [][]float64 {
			return b.OpenedSets(t, o.On.Section, o.On.Level, n)
		}}
	}
	var out []*Stage
	for k := range w.Alt {
		x, state := o.Off, o.States[1]
		if k == on {
			x, state = o.On, o.States[0]
		}
		x.Values = slices.Clone(x.Values)
		s := stateOf(c.roleOf(w, k), w.Line(k), x, body, state.Throw, why)
		if k == on {
			s.list = o.All
		}
		out = append(out, s)
	}
	return out
}

// share gives every state of the switched stages of a chain the values that one of them has
// been chosen with.
func (c *Chain) share(bench *stage.Bench) error {
	for i := range c.Positions {
		p := &c.Positions[i]
		for _, s := range p.Stages() {
			if s.list == nil {
				continue
			}
			s.Body.Values, s.Body.RealDB = s.Values, s.RealDB
			for _, x := range p.Stages() {
				if x != s && x.Body == s.Body {
					other := []stage.Candidate{x.Candidate}
					other[0].Values = slices.Clone(s.Values)
					if err := bench.Measure(other); err != nil {
						return err
					}
					x.Candidate = other[0]
				}
			}
		}
	}
	return nil
}

// heldStates is a held switched stage asked for a position's alternatives: as it stands
// where it is asked for the same, or is still near enough.
func (c *chooser) heldStates(w want, p *language.HeldPlace) (layout, bool) {
	partner := c.alternatives(w, p)
	if len(p.Alternatives) != len(w.Alt) || slices.Contains(partner, -1) {
		return layout{}, false
	}
	h := &p.Alternatives[0][0]
	misses := c.misses(h)
	if c.drop[h] || misses && h.Topology == circuit.TappedGainName {
		return layout{}, false
	}
	var states []*Stage
	if gains := gainsOf(w); gains != nil && h.Topology == circuit.TappedGainName {
		different, tap := taps(gains)
		s := circuit.TappedOf(len(different), len(h.Parts))
		if s == nil {
			return layout{}, false
		}
		if values, ok := valuesOf(s.Topology, h); ok {
			states = c.tappedStates(w, s, values, gains, tap, "it is held")
			if c.gone(states, p, partner) {
				if values = c.bench.Retapped(s, different, values, switchedShare*c.limitDB); values == nil {
					return layout{}, false
				}
				states = c.tappedStates(w, s, values, gains, tap, "it is held")
			}
		}
	} else if h.Topology == circuit.SwitchedPairName {
		states = c.heldPaired(w, p, partner)
	} else if of := tapKinds[h.Topology]; of != nil {
		states = c.heldTaps(of, w, p, partner)
	} else if h.Topology == circuit.SwitchedSumName {
		states = c.heldSummed(w, p, partner)
	} else if on, ok := onlyOne(w); ok && h.Topology != circuit.TappedGainName {
		t, _ := circuit.ByName(h.Topology)
		if wish := c.wish(w.Line(on)); t == nil || t.Opens == "" || !t.Can(asked(w.Alt[on][0]).Shape) || wish != nil && wish != t {
			return layout{}, false
		}
		if values, ok := valuesOf(t, h); ok {
			states = c.heldOpened(w, on, t, values)
			if misses || c.gone(states, p, partner) {
				if values = c.reopened(w.Alt[on][0], t, values); values == nil {
					return layout{}, false
				}
				states = c.heldOpened(w, on, t, values)
			}
		}
	}
	if states == nil {
		return layout{}, false
	}
	for k, s := range states {
		held := &p.Alternatives[partner[k]][0]
		s.held, s.Number, s.Body.held, s.Body.Number = held, held.Number, held, held.Number
	}
	l := c.states(w, states)
	l.selector = p.Selector
	return c.inPolarityOf(l, p), true
}

// gone reports whether states of a held stage are asked for something else, and too far
// from it with the held parts.
func (c *chooser) gone(states []*Stage, p *language.HeldPlace, partner []int) bool {
	for k, s := range states {
		own := ownSection(&p.Alternatives[partner[k]][0])
		own.Keep = s.Section.Keep // of no matter here, and not in the file
		if s.Section != own && s.RealDB > switchedShare*c.limitDB {
			return true
		}
	}
	return false
}

// reopened are the values of a held stage with an element that is opened for another section:
// of those that are near enough the ones with the fewest changed; nil where none is.
func (c *chooser) reopened(section biquad.Analog, t *circuit.Topology, values []float64) []float64 {
	level := -1.0
	if !t.Inverts {
		level = 1
	}
	if v := c.bench.Reopened(stage.Candidate{Topology: t, Section: section, Values: values, Level: level}, switchedShare*c.limitDB); v != nil && !c.lacks(t, v) {
		return v
	}
	all, err := c.bench.Opened(section, only(t), pool, c.behind, switchedShare*c.limitDB)
	if err != nil || len(all) == 0 {
		return nil
	}
	var best []float64
	least := len(values) + 1
	for _, o := range all[0].All {
		changed := 0
		for i, v := range o.Values {
			if v != values[i] {
				changed++
			}
		}
		if o.RealDB <= switchedShare*c.limitDB && changed < least && !c.lacks(t, o.Values) {
			best, least = o.Values, changed
		}
	}
	return best
}

// lacks reports whether some values of a topology's parts can not be had any more.
func (c *chooser) lacks(t *circuit.Topology, values []float64) bool {
	for i, e := range t.Parts() {
		if c.lost != nil && values[i] != 0 && c.lost(e.Kind, values[i]) {
			return true
		}
	}
	return false
}

// misses reports whether a value of a held stage can not be had any more.
func (c *chooser) misses(h *language.HeldStage) bool {
	return c.lost != nil && slices.ContainsFunc(h.Parts, func(p language.HeldPart) bool { return c.lost(kindOfPart(p), p.Value) })
}

// heldOpened are the states of a held stage with an element that is opened.
func (c *chooser) heldOpened(w want, on int, t *circuit.Topology, values []float64) []*Stage {
	s := t.Opened()
	level := math.Copysign(1, real(s.States[1].Closed(values).At(0)))
	both := []stage.Candidate{
		{Topology: s.States[0].Topology, Section: w.Alt[on][0], Values: values, Level: level},
		{Topology: s.States[1].Topology, Section: biquad.Constant(1), Values: slices.Clone(values), Level: level},
	}
	if c.bench.Measure(both) != nil {
		return nil
	}
	return c.openedStates(w, on, stage.Opened{Switched: s, On: both[0], Off: both[1]}, "it is held")
}

// inPolarityOf leaves of a held switched stage's polarities the one that it is held in: with the
// inverting stage that stands behind it, or without.
func (c *chooser) inPolarityOf(l layout, p *language.HeldPlace) layout {
	k := asAsked
	if !l.one[asAsked].ok || len(l.alts[asAsked][0].stages) != len(p.Alternatives[0]) {
		k = inverted
	}
	if len(p.Alternatives[0]) > 1 {
		h := &p.Alternatives[0][1]
		if s, ok := c.heldStage(GainStage, l.Line(0), biquad.Constant(-1), h); ok {
			for i := range l.alts[k] {
				l.alts[k][i].stages = []*Stage{l.alts[k][i].stages[0], s}
			}
		}
	}
	l.alts[1-k] = slices.Repeat([]built{{}}, len(l.Alt))
	l.one[1-k] = built{}
	l.one[k].cost = 0
	return l
}

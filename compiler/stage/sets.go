package stage

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// What few values are looked for among, of stages that a selector switches: sets of values of all
// their states together.

// OpenedSets lists the n sets of values with the smallest errors of a topology for a section, of
// those that are flat where its element Opens is open.
func (b *Bench) OpenedSets(t *circuit.Topology, section biquad.Analog, level float64, n int) [][]float64 {
	list := b.ask(question{section, t, n, false, true}, func() answer {
		list, reason := b.poolOf(t, section, n, perErrorOfValues, 0, flatAt(t, level))
		return answer{list: list, reason: reason}
	}).list
	var out [][]float64
	for _, c := range list {
		if math.Abs(c.Level-level) < 1e-9 {
			out = append(out, slices.Clone(c.Values))
		}
	}
	return out
}

// SummedSets lists sets of values of circuit.SwitchedSum in which those of the i-th section are other
// ones, the n with the smallest errors beside the sum's own resistors as they are.
func (b *Bench) SummedSets(sections []biquad.Analog, i int, values []float64, n int) [][]float64 {
	t := circuit.SummedOf(sections[i])
	places := circuit.SummedParts(sections, i)
	ohm := values[places[len(places)-1]]
	list := b.MostExact(t, sections[i], n)
	if len(list) == 0 {
		return nil
	}
	var out [][]float64
	for _, c := range b.withSum(list, ohm, noLimit) {
		set := slices.Clone(values)
		for k, at := range places {
			set[at] = c.Values[k]
		}
		out = append(out, set)
	}
	return out
}

const (
	// tapChoices is how many of the stock's values each resistor of a string is tried with, the nearest
	// ones, and tapLoops how many pairs of resistors for the gain behind it.
	tapChoices, tapLoops = 2, 40
	// holdRange is how far from poleOhm, in ratio, the resistor at the pole may be.
	holdRange = 2.5
	// settleTotal is how often a string's length is worked out anew, so that its last resistor is one
	// in stock whatever loads the taps.
	settleTotal = 4
)

// TappedSets lists the n sets of values with the smallest errors of circuit.TappedGain for gains,
// the largest first, with the parts of one of them.
func (b *Bench) TappedSets(s *circuit.Switched, gains, like []float64, n int) [][]float64 {
	x := &stringOf{s: s, gains: gains}
	for _, e := range s.Parts() {
		x.lists = append(x.lists, b.Stock.Of(e))
	}
	more := len(x.lists) - len(gains) - 1
	top, amplifies := more%2 == 1, more > 1
	x.string = len(x.lists) - 1
	loops := []loop{{gain: 1}}
	if amplifies {
		x.string -= 2
		loops = x.everyLoop(top)
	}
	found := &pool{elements: s.Parts(), most: n, same: perErrorOfValues}
	was := 0.0 // of the string
	for _, v := range like[:x.string] {
		was += v
	}
	for _, l := range loops {
		for _, hold := range x.lists[x.string] {
			if hold < like[x.string]/holdRange || hold > like[x.string]*holdRange {
				continue
			}
			for _, last := range x.lists[x.string-1] {
				total := was
				var ideal []float64
				for range settleTotal {
					ideal = circuit.DesignTapped(gains, top, l.gain, total, hold)
					total *= last / ideal[len(ideal)-1]
				}
				if total < was/holdRange || total > was*holdRange {
					continue
				}
				v := make([]float64, len(x.lists))
				v[x.string-1], v[x.string] = last, hold
				if amplifies {
					v[x.string+1], v[x.string+2] = l.minus, l.feedback
				}
				x.strung(ideal, v, x.string-2, 0, found)
			}
		}
	}
	var out [][]float64
	for _, e := range found.list {
		out = append(out, e.values)
	}
	return out
}

// strung tries the k-th resistor of a string and all above it; carry (ohm) is by how much those
// below are shorter than the ideal ones.
func (x *stringOf) strung(ideal, v []float64, k int, carry float64, found *pool) {
	if k < 0 {
		found.add(x.error(v), v)
		return
	}
	want := ideal[k] + carry
	list := x.lists[k]
	if !(want > 0) {
		return
	}
	at := nearest(list, want)
	from := at
	if list[at] > want && at > 0 {
		from--
	}
	for _, ohm := range list[from:min(from+tapChoices, len(list))] {
		v[k] = ohm
		x.strung(ideal, v, k-1, want-ohm, found)
	}
}

// everyLoop are loops, those whose gain comes nearest to the largest that is wanted.
func (x *stringOf) everyLoop(top bool) []loop {
	want := x.gains[0]
	if top {
		want *= biquad.FromDB(topDB)
	}
	var all []loop
	for _, feedback := range x.lists[len(x.lists)-1] {
		for _, minus := range x.lists[len(x.lists)-2] {
			if gain := 1 + feedback/minus; gain/want < loopRange && want/gain < loopRange && feedback+minus >= sumOhm {
				all = append(all, loop{minus, feedback, gain})
			}
		}
	}
	off := func(l loop) float64 { return rounded(math.Abs(biquad.GainDB(l.gain / want))) }
	slices.SortStableFunc(all, func(a, b loop) int { return cmp.Compare(off(a), off(b)) })
	return all[:min(tapLoops, len(all))]
}

// loopRange is how far the gain behind a string may be from the wanted one, in ratio.
const loopRange = 1.06

// Varied lists a candidate with each of some sets of values, not measured.
func (b *Bench) Varied(c Candidate, sets [][]float64) []Candidate {
	w := newWanted(c.Section, c.Level, b.Band)
	var out []Candidate
	for _, v := range sets {
		c.Values, c.Measured, c.ErrorDB = slices.Clone(v), false, w.error(c.Topology.Closed(v), noLimit)
		out = append(out, c)
	}
	return out
}

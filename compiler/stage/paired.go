package stage

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// perPair is how many sets of values of a pair are measured in all of its states, and holdOhm (ohm)
// what holds the input of its filter while the selector is open: far below what a bias current turns
// into volts, and no load.
const perPair, holdOhm = 12, 100e3

// Paired chooses the values of circuit.SwitchedPair for two sections: those with the fewest points in
// all states together that are at most mostDB off in each. It is nil where the sections are no such
// pair, or too far from reciprocals.
func (b *Bench) Paired(sections []biquad.Analog, flat bool, n int, behind Behind, mostDB float64) (*Summed, error) {
	of := circuit.PairOf(sections)
	if of == nil {
		return nil, nil
	}
	var list []Candidate
	for _, s := range sections {
		if circuit.SummedOf(s) != of {
			continue // the reciprocal
		}
		opened, err := b.Opened(s, []*circuit.Topology{of}, n, behind, mostDB)
		if err != nil || len(opened) == 0 {
			return nil, err
		}
		list = opened[0].All
	}
	var best *Summed
	least, measured := math.Inf(1), 0
	for _, c := range list {
		v := c.Values
		if ra, rf := v[len(v)-3], v[len(v)-1]; ra != rf || c.RealDB > mostDB || measured == perPair {
			continue
		}
		measured++
		x, err := b.PairedWith(sections, flat, b.held(of, sections, flat, v), behind)
		if err != nil {
			return nil, err
		}
		points := 0.0
		for _, s := range x.States {
			points += s.Score
		}
		if x.WorstDB() <= mostDB && points < least {
			best, least = x, points
		}
	}
	return best, nil
}

// held are the values of a pair with those of its topology, and the resistor that holds its filter.
func (b *Bench) held(of *circuit.Topology, sections []biquad.Analog, flat bool, v []float64) []float64 {
	v = slices.Clone(v)
	if parts := circuit.SwitchedPair(sections, flat).Parts(); len(parts) > len(of.Parts()) {
		v = append(v, b.Stock.Ohm[nearest(b.Stock.Ohm, holdOhm)])
	}
	return v
}

// PairedWith is circuit.SwitchedPair with values, measured in each of its states.
func (b *Bench) PairedWith(sections []biquad.Analog, flat bool, values []float64, behind Behind) (*Summed, error) {
	x := &Summed{Switched: circuit.SwitchedPair(sections, flat), Values: values}
	all := sections
	if flat {
		all = append(slices.Clone(sections), biquad.Constant(1))
	}
	return x, b.measureStates(x, all, behind)
}

// Repaired are the values of circuit.SwitchedPair with the fewest changed that leave no state more
// than mostDB off; nil where the stock has none.
func (b *Bench) Repaired(sections []biquad.Analog, flat bool, values []float64, n int, behind Behind, mostDB float64) []float64 {
	s := circuit.SwitchedPair(sections, flat)
	for i, section := range sections {
		if circuit.SummedOf(section) != circuit.PairOf(sections) {
			continue
		}
		parts := len(circuit.PairOf(sections).Parts())
		if !slices.Contains(b.Stock.Ohm, values[parts-1]) {
			break // the sum's own resistors
		}
		own := ownParts(parts)
		if hold := len(values) - 1; hold == parts && !slices.Contains(b.Stock.Ohm, values[hold]) {
			own = append(own, hold)
		}
		v := b.Fewest(Candidate{Topology: s.States[i].Topology, Section: section, Values: values, Level: -1}, own, mostDB)
		if v == nil {
			break
		}
		if x, err := b.PairedWith(sections, flat, v, behind); err == nil && x.WorstDB() <= mostDB {
			return v
		}
	}
	if x, err := b.Paired(sections, flat, n, behind, mostDB); err == nil && x != nil {
		return x.Values
	}
	return nil
}

// PairedSets lists the n sets of values of circuit.SwitchedPair with the smallest errors, with the
// resistor that holds its filter as it is.
func (b *Bench) PairedSets(sections []biquad.Analog, like []float64, n int) [][]float64 {
	of := circuit.PairOf(sections)
	var out [][]float64
	for _, s := range sections {
		if circuit.SummedOf(s) != of {
			continue
		}
		for _, v := range b.OpenedSets(of, s, -1, n) {
			if v[len(v)-3] == v[len(v)-1] {
				out = append(out, append(slices.Clone(v), like[len(v):]...))
			}
		}
	}
	return out
}

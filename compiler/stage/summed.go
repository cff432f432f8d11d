package stage

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// Summed is a stage of which a selector adds one of several filters to the signal, or one filter to
// its input or its output, with values in stock.
type Summed struct {
	*circuit.Switched
	Values []float64
	// States are what it is for each of the sections, and at last a gain of 1 where it has that.
	States []Candidate
}

const (
	// sumOhm (ohm) is the least of the two equal resistors of a sum, and sumRange how far above
	// it they may be; sums is how many such pairs are measured, those that promise the fewest points
	// of all sections; perList how many sets of values of each section are tried with each pair, and
	// perSection how many of them are measured.
	sumOhm, sumRange          = 2e3, 8
	sums, perList, perSection = 6, 40, 8
)

// Summed chooses the values of circuit.SwitchedSum for sections: those with the fewest points of all
// sections together that are at most mostDB off. It is nil where a section can not be had so.
func (b *Bench) Summed(sections []biquad.Analog, n int, behind Behind, mostDB float64) (*Summed, error) {
	s := circuit.SwitchedSum(sections)
	if s == nil {
		return nil, nil
	}
	all := make([][]Candidate, len(sections))
	for i, section := range sections {
		opened, err := b.Opened(section, []*circuit.Topology{circuit.SummedOf(section)}, n, behind, mostDB)
		if err != nil || len(opened) == 0 {
			return nil, err
		}
		all[i] = opened[0].All[:min(perList, len(opened[0].All))]
	}
	var best []Candidate
	least := math.Inf(1)
	for _, ohm := range b.sumsFor(all, mostDB) {
		points := 0.0
		var chosen []Candidate
		for _, list := range all {
			c, err := b.added(list, ohm, behind, mostDB)
			if err != nil {
				return nil, err
			}
			points += c.Score
			chosen = append(chosen, c)
		}
		if points < least {
			best, least = chosen, points
		}
	}
	if best == nil {
		return nil, nil
	}
	values := make([]float64, len(s.Parts()))
	for i := range sections {
		for k, at := range circuit.SummedParts(sections, i) {
			values[at] = best[i].Values[k]
		}
	}
	return b.SummedWith(sections, values, behind)
}

// Resummed are the values of circuit.SwitchedSum with others for its i-th section, the fewest that
// leave no error above mostDB; nil where the sum's own resistors would have to change.
func (b *Bench) Resummed(sections []biquad.Analog, i int, values []float64, n int, behind Behind, mostDB float64) []float64 {
	t := circuit.SummedOf(sections[i])
	places := circuit.SummedParts(sections, i)
	own := make([]float64, len(places))
	for k, at := range places {
		own[k] = values[at]
	}
	if !slices.Contains(b.Stock.Ohm, own[len(own)-1]) {
		return nil
	}
	best := b.Fewest(Candidate{Topology: t, Section: sections[i], Values: own, Level: -1}, ownParts(len(own)), mostDB)
	if best == nil {
		opened, err := b.Opened(sections[i], []*circuit.Topology{t}, n, behind, mostDB)
		if err != nil || len(opened) == 0 {
			return nil
		}
		if c, err := b.added(opened[0].All, own[len(own)-1], behind, mostDB); err == nil {
			best = c.Values // nil where none is near enough
		}
	}
	if best == nil {
		return nil
	}
	out := slices.Clone(values)
	for k, at := range places {
		out[at] = best[k]
	}
	return out
}

// ownParts are those of a topology of circuit.SummedOf but for the sum's two resistors, Ra and Rf.
func ownParts(parts int) []int {
	var out []int
	for i := range parts {
		if i != parts-3 && i != parts-1 {
			out = append(out, i)
		}
	}
	return out
}

// sumsFor are resistors of a sum with which every list has a candidate that is at most mostDB off
// with ideal op-amps, those that promise the fewest points first.
func (b *Bench) sumsFor(all [][]Candidate, mostDB float64) []float64 {
	type sum struct{ ohm, points float64 }
	var out []sum
	for _, ohm := range b.Stock.Ohm {
		if ohm < sumOhm || ohm > sumOhm*sumRange {
			continue
		}
		x := sum{ohm: ohm}
		for _, list := range all {
			if c := b.withSum(list, ohm, mostDB); len(c) > 0 {
				x.points += c[0].Score
			} else {
				x.points = math.Inf(1)
			}
		}
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(x, y sum) int { return cmp.Compare(x.points, y.points) })
	var ohms []float64
	for _, s := range out[:min(sums, len(out))] {
		ohms = append(ohms, s.ohm)
	}
	return ohms
}

// withSum are candidates of a stage of circuit.SummedOf with another pair of resistors of the sum
// and the nearest Rb to that, those at most mostDB off with ideal op-amps. Their scores are what
// spoke against them before, but for the error, which is the new one; the best are first.
func (b *Bench) withSum(list []Candidate, ohm, mostDB float64) []Candidate {
	var out []Candidate
	w := newWanted(list[0].Section, list[0].Level, b.Band)
	for _, c := range list {
		n := len(c.Values)
		c.Values = slices.Clone(c.Values)
		rb := c.Values[n-2] / c.Values[n-1] * ohm
		if !(rb >= b.Stock.Ohm[0]) || rb > b.Stock.Ohm[len(b.Stock.Ohm)-1] {
			continue
		}
		c.Values[n-3], c.Values[n-2], c.Values[n-1] = ohm, b.Stock.Ohm[nearest(b.Stock.Ohm, rb)], ohm
		if slices.ContainsFunc(out, func(o Candidate) bool { return slices.Equal(o.Values, c.Values) }) {
			continue
		}
		c.ErrorDB = w.error(c.Topology.Closed(c.Values), noLimit)
		c.Score = rounded(c.Points() + pointsPerDB*c.ErrorDB)
		if c.ErrorDB <= mostDB {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, byScore)
	return out
}

// added is the candidate with the fewest points that has these resistors of the sum, with infinitely
// many where none is at most mostDB off.
func (b *Bench) added(list []Candidate, ohm float64, behind Behind, mostDB float64) (Candidate, error) {
	best := Candidate{Score: math.Inf(1)}
	some := b.withSum(list, ohm, mostDB)
	some = some[:min(perSection, len(some))]
	err := b.Measure(some)
	for _, c := range some {
		c.weigh(behind.over(noiseHz(c.Section)))
		if c.RealDB <= mostDB && c.Score < best.Score {
			best = c
		}
	}
	return best, err
}

// SummedWith is circuit.SwitchedSum with values, measured in each of its states.
func (b *Bench) SummedWith(sections []biquad.Analog, values []float64, behind Behind) (*Summed, error) {
	x := &Summed{Switched: circuit.SwitchedSum(sections), Values: values}
	return x, b.measureStates(x, append(slices.Clone(sections), biquad.Constant(1)), behind)
}

// measureStates measures a stage in each of its states, which are these sections.
func (b *Bench) measureStates(x *Summed, sections []biquad.Analog, behind Behind) error {
	for i, s := range sections {
		x.States = append(x.States, Candidate{Topology: x.Switched.States[i].Topology, Section: s, Values: slices.Clone(x.Values), Level: -1})
	}
	err := b.Measure(x.States)
	for i := range x.States {
		x.States[i].weigh(behind.over(noiseHz(x.States[i].Section)))
	}
	return err
}

// WorstDB is the error (dB) of the worst state, with the real op-amp.
func (x *Summed) WorstDB() float64 {
	worst := 0.0
	for _, s := range x.States {
		worst = max(worst, s.RealDB)
	}
	return worst
}

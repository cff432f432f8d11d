package stage

import (
	"cmp"
	"slices"
)

// fewestMeasured is how many sets of values are measured of those that do with ideal op-amps.
const fewestMeasured = 6

// nearBy is how far from its value a part of a stage that stands is tried, in ratio, where so many are
// tried together.
var nearBy = [...]float64{1: 2, 2: 2, 3: 1.25}

// Fewest are the values of a stage with the fewest of the parts named by index changed, besides those
// that are not in stock, that leave no error above mostDB with the real op-amp, or above half of that
// where so few do: three in all at most; of those the ones with the smallest error. It is nil where
// that does not do.
func (b *Bench) Fewest(stage Candidate, parts []int, mostDB float64) []float64 {
	must := 0
	var order []int // what has to change comes first
	for _, i := range parts {
		if slices.Contains(b.Stock.Of(stage.Topology.Parts()[i]), stage.Values[i]) {
			order = append(order, i)
		} else {
			order = slices.Insert(order, must, i)
			must++
		}
	}
	for moved := max(must, 1); moved < len(nearBy); moved++ {
		for _, db := range [...]float64{mostDB / 2, mostDB} {
			if v := b.moved(stage, order, must, moved, db); v != nil {
				return v
			}
		}
	}
	return nil
}

// moved are the best values with so many parts changed, of which the first ones must be.
func (b *Bench) moved(stage Candidate, parts []int, must, moved int, mostDB float64) []float64 {
	w := newWanted(stage.Section, stage.Level, b.Band)
	elements := stage.Topology.Parts()
	near := make([][]float64, len(parts))
	for k, i := range parts {
		for _, x := range b.Stock.Of(elements[i]) {
			if x <= stage.Values[i]*nearBy[moved] && x >= stage.Values[i]/nearBy[moved] {
				near[k] = append(near[k], x)
			}
		}
	}
	var found []Candidate
	v := slices.Clone(stage.Values)
	var change func(from, left int)
	change = func(from, left int) {
		if left == 0 {
			if e := w.error(stage.Topology.Closed(v), mostDB); e <= mostDB {
				x := stage
				x.Values, x.ErrorDB = slices.Clone(v), e
				found = append(found, x)
			}
			return
		}
		for k := from; k < len(parts) && (from >= must || k == from); k++ {
			i := parts[k]
			for _, v[i] = range near[k] {
				change(k+1, left-1)
			}
			v[i] = stage.Values[i]
		}
	}
	change(0, moved)
	slices.SortStableFunc(found, func(x, y Candidate) int { return cmp.Compare(x.ErrorDB, y.ErrorDB) })
	found = found[:min(fewestMeasured, len(found))]
	if b.Measure(found) != nil {
		return nil
	}
	for _, x := range found {
		if x.RealDB <= mostDB {
			return x.Values
		}
	}
	return nil
}

// Reopened is Fewest for a stage with an element that a selector opens: with it open the stage keeps
// the level of the section.
func (b *Bench) Reopened(stage Candidate, mostDB float64) []float64 {
	flat := stage.Topology.Opened().States[1].Closed
	level := flat(stage.Values).At(0)
	var parts []int
	for i := range stage.Values {
		v := slices.Clone(stage.Values)
		v[i] *= 2
		if stage.Values[i] > 0 && flat(v).At(0) == level {
			parts = append(parts, i)
		}
	}
	return b.Fewest(stage, parts, mostDB)
}

package stage

import (
	"math"
	"slices"
	"sort"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// Stock is what can be bought, ascending: the results of Values.
type Stock struct {
	Ohm []float64 // resistors
	// ShuntOhm are the resistors for places where the template allows a low one
	// (circuit.Element.Shunt): Ohm, and smaller ones.
	ShuntOhm []float64
	Farad    []float64 // capacitors
	// Sigma is the standard deviation of a part's value from board to board, relative;
	// nil where it is not known.
	Sigma func(kind netlist.Kind, value float64) float64
}

// Of lists the values for one element of a template.
func (s *Stock) Of(e circuit.Element) []float64 {
	switch {
	case e.Kind == netlist.Capacitor:
		return s.Farad
	case e.Shunt:
		return s.ShuntOhm
	}
	return s.Ohm
}

// Has reports whether a value can be bought for an element; 0, not fitted, can
// where the element is optional.
func (s *Stock) Has(e circuit.Element, v float64) bool {
	if v == 0 {
		return e.Optional
	}
	_, found := slices.BinarySearch(s.Of(e), v)
	return found
}

// nearest is the index of the value of an ascending list that is nearest to v in
// ratio, the smaller of two at the same distance. The list is not empty.
func nearest(list []float64, v float64) int {
	i, n := 0, len(list)
	for i < n { // the first that is no less: so much is asked that a call for each step would be seen
		if m := int(uint(i+n) >> 1); !(list[m] >= v) {
			i = m + 1
		} else {
			n = m
		}
	}
	switch {
	case i == len(list):
		return i - 1
	case i == 0 || list[i] == v:
		return i
	case list[i]*list[i-1] < v*v: // v above the geometric mean
		return i
	}
	return i - 1
}

// within are the bounds, as a half-open range of indices, of the values from lo
// to hi. Both ends are let out by edge, so that rounding excludes nothing.
func within(list []float64, lo, hi float64) (from, to int) {
	from = sort.SearchFloat64s(list, lo*(1-edge))
	hi *= 1 + edge
	to = from
	if hi >= lo && !math.IsNaN(hi) {
		to = from + sort.Search(len(list)-from, func(i int) bool { return list[from+i] > hi })
	}
	return from, to
}

// Only is what a stock has of some values, or all of a list that it has none of.
func (s *Stock) Only(of func(v float64) bool) Stock {
	some := func(list []float64) []float64 {
		out := slices.DeleteFunc(slices.Clone(list), func(v float64) bool { return !of(v) })
		if len(out) == 0 {
			return list
		}
		return out
	}
	return Stock{Ohm: some(s.Ohm), ShuntOhm: some(s.ShuntOhm), Farad: some(s.Farad), Sigma: s.Sigma}
}

// coarse is the ratio between neighbours of a stock that few values are looked for
// in, below every one of E24: in a finer series the sets of values with the smallest
// errors are so many, and so exact, that none has values in common with others.
const coarse = 1.06

// Coarser is a stock with no two values nearer to each other than coarse, but for
// those that must stay.
func (s *Stock) Coarser(stay func(v float64) bool) Stock {
	thin := func(list []float64) []float64 {
		var out []float64
		last := 0.0
		for _, v := range list {
			switch {
			case v >= last*coarse:
				out, last = append(out, v), v
			case stay(v):
				out = append(out, v)
			}
		}
		return out
	}
	return Stock{Ohm: thin(s.Ohm), ShuntOhm: thin(s.ShuntOhm), Farad: thin(s.Farad), Sigma: s.Sigma}
}

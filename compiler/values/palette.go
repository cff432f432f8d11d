package values

import (
	"slices"

	"bandwright/compiler/stage"
)

// A palette are the values that a pass of Few looks among: those of the plan that it begins with
// and of the other lines, and some of the stock besides, others in each pass. What few values
// there are in it, sets of them are listed that are too inexact to be among the best of the whole
// stock, and these are what stages can share.

// A pass looks among so many values that the plan has not, or a share of them where that is more:
// those that the lines have count.
const mostBesides, shareBesides = 10, 0.25

// palette is what a pass from a plan looks among.
func palette(stock *stage.Stock, from Plan, lines []Plan, pass int) func(v float64) bool {
	of := func(v float64) bool {
		return from.has(v) || slices.ContainsFunc(lines, func(x Plan) bool { return x.has(v) })
	}
	besides := 0
	var rest []float64
	for _, list := range [...][]float64{stock.Farad, stock.Ohm} {
		for _, v := range list {
			switch {
			case !of(v):
				rest = append(rest, v)
			case !from.has(v):
				besides++
			}
		}
	}
	if most := max(mostBesides, int(shareBesides*float64(len(rest)+besides))) - besides; pass > 0 && most > 0 && len(rest) > 0 {
		every := (len(rest) + most - 1) / most
		for k, v := range slices.Clone(rest) {
			if (k+1+pass)%every != 0 {
				rest = slices.DeleteFunc(rest, func(x float64) bool { return x == v })
			}
		}
	} else {
		rest = nil
	}
	return func(v float64) bool { return of(v) || slices.Contains(rest, v) }
}

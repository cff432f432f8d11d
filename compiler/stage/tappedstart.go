package stage

import (
	"math"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

const (
	// tapSumOhm, tapStringOhm and tapHoldOhm (ohm) are what the amplifier's resistors, the string and the
	// resistor at the pole of a circuit.TappedFilter begin with.
	tapSumOhm, tapStringOhm, tapHoldOhm = 5e3, 15e3, 47e3
	// tapOhm and tapRange bound capacitors: so many ohms at the corner, and that ratio around it; tapUneven
	// is the ratio of the two at most.
	tapOhm, tapRange, tapUneven = 10e3, 5, 15
	// tapCapacitors is how many different capacitors of each place are tried at most.
	tapCapacitors = 9
	// tapLevels is by how much more than tapSumOhm the amplifier's resistors may be.
	tapLevels = 4
	// fromOhm and toOhm (ohm) are the least and the most of the amplifier's resistors of a circuit.TappedShelf.
	fromOhm, toOhm = 4e3, 50e3
)

// tapEnds are parts of the string above the strongest tap of a circuit.TappedShelf that are tried: the less, the
// smaller the capacitor, and the longer a string of resistors in stock.
var tapEnds = [...]float64{0.04, 0.08, 0.13, 0.2}

// begun are values with capacitors in stock that fits begin with.
func (x *tappedFilter) begun() [][]float64 {
	capacitors := 0
	for _, e := range x.s.Parts() {
		if e.Kind == netlist.Capacitor {
			capacitors++
		}
	}
	var out [][]float64
	add := func(v []float64) {
		if v != nil {
			for i := range v {
				v[i] = math.Max(x.lists[i][0], math.Min(x.lists[i][len(x.lists[i])-1], v[i]))
			}
			out = append(out, v)
		}
	}
	if x.of == circuit.TappedShelf {
		for _, c := range x.b.Stock.Farad {
			for _, end := range tapEnds {
				add(x.startShelf(c, end))
			}
		}
		return out
	}
	some := x.capacitors()
	for _, c1 := range some {
		for _, c2 := range some {
			if c1 <= c2*tapUneven && c2 <= c1*tapUneven && (capacitors == 2 || c1 == c2) {
				add(x.start(c1, c2))
			}
		}
	}
	return out
}

// capacitors are those in stock that are tried, two of them together.
func (x *tappedFilter) capacitors() []float64 {
	w, _ := x.sections[0].Natural()
	var some []float64
	for _, c := range x.b.Stock.Farad {
		if ohm := 1 / (w * c); ohm > tapOhm/tapRange && ohm < tapOhm*tapRange {
			some = append(some, c)
		}
	}
	if n := len(some); n > tapCapacitors { // from the first to the last
		for i := range tapCapacitors {
			some[i] = some[i*(n-1)/(tapCapacitors-1)]
		}
		some = some[:tapCapacitors]
	}
	return some
}

// start is where a fit begins; nil where no filter has such capacitors.
func (x *tappedFilter) start(c1, c2 float64) []float64 {
	var v []float64
	for level := 1.0; level <= tapLevels; level *= 2 { // strong ones ask for an Rb far below the others
		sum := x.lists[x.ra][nearest(x.lists[x.ra], tapSumOhm*level)]
		v = x.of.Start(x.sections, c1, c2, sum, tapStringOhm, tapHoldOhm)
		if v == nil || x.rb < 0 || v[x.rb] > 2*x.lists[x.rb][0] {
			break
		}
	}
	return v
}

// startShelf is where a fit of a circuit.TappedShelf begins; nil where none has such a capacitor.
func (x *tappedFilter) startShelf(c, end float64) []float64 {
	v := x.of.StartShelf(x.sections, c, end, x.lists[x.string][0]/end)
	if v == nil || v[x.ra] < fromOhm || v[x.ra] > toOhm {
		return nil
	}
	v[x.ra] = x.lists[x.ra][nearest(x.lists[x.ra], v[x.ra])]
	v[x.rf] = v[x.ra]
	return v
}

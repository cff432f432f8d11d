package board

import (
	"math"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// StockOf are the values of a spec's board.
func StockOf(b *language.Board) stage.Stock {
	return stage.Stock{
		Ohm:      stage.Values(b.Resistors.Series, b.Resistors.Values, b.Resistors.From, b.Resistors.To),
		ShuntOhm: stage.Values(b.Resistors.Series, b.Resistors.Values, math.Min(b.ShuntOhm, b.Resistors.From), b.Resistors.To),
		Farad:    stage.Values(b.Capacitors.Series, b.Capacitors.Values, b.Capacitors.From, b.Capacitors.To),
		Sigma: func(kind netlist.Kind, value float64) float64 {
			of := &b.Resistors
			if kind == netlist.Capacitor {
				of = &b.Capacitors
			}
			if b.Normal {
				return of.ToleranceOf(value) / 3
			}
			return of.ToleranceOf(value) / math.Sqrt(3)
		},
	}
}

// stock is what the board may take: the spec's stock, without what is gone.
func (j *Job) stock() stage.Stock {
	s := StockOf(j.Spec)
	without := func(kind netlist.Kind, list []float64) []float64 {
		return slices.DeleteFunc(slices.Clone(list), func(v float64) bool { return slices.Contains(j.Without, Value{kind, v}) })
	}
	if j.Without != nil {
		s.Ohm, s.ShuntOhm, s.Farad = without(netlist.Resistor, s.Ohm), without(netlist.Resistor, s.ShuntOhm), without(netlist.Capacitor, s.Farad)
	}
	return s
}

// benchOf is what the stages of a job's board are made from.
func benchOf(j Job) *stage.Bench {
	return stage.New(j.stock(), j.Means, stage.Band{FromHz: j.LowHz, ToHz: j.HighHz, DownDB: downDB})
}

// nearest is the resistor in stock whose ratio to ohm is nearest to one.
func nearest(s language.Stock, ohm float64) float64 {
	best, distance := ohm, math.Inf(1)
	for _, v := range stage.Values(s.Series, s.Values, s.From, s.To) {
		if d := math.Abs(math.Log2(v / ohm)); d < distance {
			best, distance = v, d
		}
	}
	return best
}

package board

import (
	"math"

	"bandwright/compiler/language"
	"bandwright/compiler/stage"
)

// StockOf are the values of a spec's board.
func StockOf(b *language.Board) stage.Stock {
	return stage.Stock{
		Ohm:      stage.Values(b.Resistors.Series, b.Resistors.Values, b.Resistors.From, b.Resistors.To),
		ShuntOhm: stage.Values(b.Resistors.Series, b.Resistors.Values, math.Min(b.ShuntOhm, b.Resistors.From), b.Resistors.To),
		Farad:    stage.Values(b.Capacitors.Series, b.Capacitors.Values, b.Capacitors.From, b.Capacitors.To),
	}
}

// benchOf is what the stages of a job's board are made from.
func benchOf(j Job) *stage.Bench {
	return stage.New(StockOf(j.Spec), j.Means, stage.Band{FromHz: j.LowHz, ToHz: j.HighHz, DownDB: downDB})
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

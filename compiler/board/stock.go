package board

import (
	"math"

	"bandwright/compiler/language"
	"bandwright/compiler/parts"
)

// StockOf are the values of a spec's board.
func StockOf(b *language.Board) parts.Stock {
	return parts.Stock{
		Ohm:      parts.Values(b.Resistors.Series, b.Resistors.Values, b.Resistors.From, b.Resistors.To),
		ShuntOhm: parts.Values(b.Resistors.Series, b.Resistors.Values, math.Min(b.ShuntOhm, b.Resistors.From), b.Resistors.To),
		Farad:    parts.Values(b.Capacitors.Series, b.Capacitors.Values, b.Capacitors.From, b.Capacitors.To),
	}
}

// nearest is the resistor in stock whose ratio to ohm is nearest to one.
func nearest(s language.Stock, ohm float64) float64 {
	best, distance := ohm, math.Inf(1)
	for _, v := range parts.Values(s.Series, s.Values, s.From, s.To) {
		if d := math.Abs(math.Log2(v / ohm)); d < distance {
			best, distance = v, d
		}
	}
	return best
}

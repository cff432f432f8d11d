package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Phase is the error of phase of a way that sums with a neighbour.
var Phase = Row{
	Name: "phase", Doc: "Largest phase error of ways that sum, degrees.",
	Type:    language.Type{Dims: []language.Dim{language.Angle}, Max: 180, Open: true},
	Default: demanded(5), Unit: words.Deg, Written: words.Deg, Shapes: language.RealisesDigital | language.RealisesBoard, Null: true,
}

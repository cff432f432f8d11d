package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Phase is the error of phase of a way that sums with a neighbour.
var Phase = Row{
	Promise: verify.Promise{Name: "phase", Of: verify.Phase, Unit: words.Deg,
		Loosened: three(words.Deg)},
	Doc:     "Largest phase error of ways that sum, degrees.",
	Type:    language.Type{Dims: []language.Dim{language.Angle}, Max: 180, Open: true},
	Default: demanded(5), Shapes: language.RealisesDigital | language.RealisesBoard, Null: true,
}

package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Sum is the error of the summed ways' magnitude.
var Sum = Row{
	Promise: verify.Promise{Name: "sum", Of: verify.Sum, Unit: words.DB, About: "sum of the ways",
		Loosened: three(words.DB)},
	Doc:  "Largest error of the summed ways' magnitude, dB.",
	Type: errorDB, Default: demanded(0.1), Shapes: language.RealisesDigital | language.RealisesBoard, Null: true,
}

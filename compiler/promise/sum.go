package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Sum is the error of the summed ways' magnitude.
var Sum = Row{
	Name: "sum", Doc: "Largest error of the summed ways' magnitude, dB.",
	Type: errorDB, Default: demanded(0.1), Unit: words.DB, Written: words.DB, Shapes: language.RealisesDigital | language.RealisesBoard, Null: true,
}

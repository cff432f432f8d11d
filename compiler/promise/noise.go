package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Noise is the noise of the arithmetic.
var Noise = Row{
	Name: "noise", Doc: "Most noise of the arithmetic, 20 Hz to 20 kHz unweighted, dBFS.",
	Type:    language.Type{Dims: []language.Dim{language.FullScale}, Min: -400, Max: 0},
	Default: demanded(-110), Unit: words.DBFS, Written: words.DBFS, Null: true,
}

package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Noise is the noise of the arithmetic.
var Noise = Row{
	Promise: verify.Promise{Name: "noise", Of: verify.Noise, Unit: words.DBFS,
		Loosened: whole(words.DBFS)},
	Doc:     "Highest round-off noise, 20 Hz to 20 kHz unweighted, dBFS.",
	Type:    language.Type{Dims: []language.Dim{language.FullScale}, Min: -400, Max: 0},
	Default: demanded(-110), Null: true,
}

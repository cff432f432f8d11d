package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardNoise is the noise at a way's output in volts.
var BoardNoise = Row{
	Promise: verify.Promise{Name: "board-noise", Of: verify.NoiseV, Unit: words.DBu,
		In:       func(_ verify.Realisation, v float64) float64 { return verify.DBu(v) },
		Loosened: whole(words.DBu)},
	Doc:     "Highest noise at a way's output of the board, 20 Hz to 20 kHz unweighted, dBu.",
	Type:    language.Type{Dims: []language.Dim{language.VoltageLevel}, Min: -200, Max: 60},
	Example: -90,
}

package promise

import (
	"math"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardDC is the direct voltage at a way's output, every offset voltage and bias
// current at its worst sign.
var BoardDC = Row{
	Promise: verify.Promise{Name: "board-dc", Of: verify.Offset, Unit: words.Volt,
		Loosened: func(v float64) string { return words.Part(math.Ceil(v*1e3)/1e3, "V") }},
	Doc:  "Greatest DC offset at a way's output of the board, every offset voltage and bias current at its worst sign, V.",
	Type: language.Type{Dims: []language.Dim{language.Voltage}, Max: 1000, Open: true}, Default: demanded(0.05),
}

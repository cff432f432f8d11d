package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// BoardNoise is the noise at a way's output in volts.
var BoardNoise = Row{
	Name: "board-noise", Doc: "Most noise at a way's output of the board, 20 Hz to 20 kHz unweighted, dBu.",
	Type:    language.Type{Dims: []language.Dim{language.VoltageLevel}, Min: -200, Max: 60},
	Example: -90, Unit: words.DBu, Written: words.DBu,
}

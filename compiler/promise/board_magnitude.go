package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardMagnitude is a way's error of magnitude where it is built of parts, in
// place of Magnitude.
var BoardMagnitude = Row{
	Promise: verify.Promise{Name: "board-magnitude", Of: verify.Magnitude, Unit: words.DB,
		Applies:  hasStrays,
		Loosened: three(words.DB)},
	Doc:  "Largest error of a way's magnitude on the board, with nominal parts and the real op-amp, down to 40 dB below its peak, dB.",
	Type: errorDB, Default: demanded(0.1), Shapes: language.RealisesBoard,
}

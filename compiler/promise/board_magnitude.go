package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// BoardMagnitude is a way's error of magnitude where it is built of parts, in
// place of Magnitude.
var BoardMagnitude = Row{
	Name: "board-magnitude", Doc: "Largest error of a way's magnitude on the board, with nominal parts and the real op-amp, down to 40 dB below its peak, dB.",
	Type: errorDB, Default: demanded(0.1), Unit: words.DB, Written: words.DB, Shapes: language.RealisesBoard,
}

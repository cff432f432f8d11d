package promise

import "bandwright/compiler/words"

// BoardHeadroom is how far op-amps stay from clipping.
var BoardHeadroom = Row{
	Name: "board-headroom", Doc: "Least distance of every op-amp's output from its swing for a sine of `board.input.level` anywhere in the band, dB.",
	Type: distanceDB, Default: demanded(0), Unit: words.DB, Written: words.DB, Distance: true,
}

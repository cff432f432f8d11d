package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardHeadroom is how far op-amps stay from clipping.
var BoardHeadroom = Row{
	Promise: verify.Promise{Name: "board-headroom", Of: verify.Overdrive, Unit: words.DB, Slack: rounding},
	Doc:     "Least headroom of every op-amp's output, in volts, current and slew rate, for a sine of `board.input.level` anywhere in the band, dB.",
	Type:    distanceDB, Default: demanded(0), Distance: true,
}

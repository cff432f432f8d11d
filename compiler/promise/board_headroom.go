package promise

import (
	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardHeadroom is how far op-amps stay from clipping.
var BoardHeadroom = Row{
	Promise: verify.Promise{Name: "board-headroom", Of: verify.Clip, Unit: words.DB,
		Slack:   rounding,
		Applies: func(r verify.Realisation) bool { _, ok := r.(verify.Driven); return ok },
		In: func(r verify.Realisation, clipV float64) float64 {
			return biquad.GainDB(r.(verify.Driven).InputV() / clipV)
		}},
	Doc:  "Least headroom of every op-amp's output for a sine of `board.input.level` anywhere in the band, dB.",
	Type: distanceDB, Default: demanded(0), Distance: true,
}

package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardYield is the share of finished boards of which every way and the sum keep to
// BoardSpread in every combination of settings.
var BoardYield = Row{
	Promise: verify.Promise{Name: "board-yield", About: "share of boards within board-spread", Of: verify.Yield, Unit: words.Share,
		LessIsWorse: true, AtLeast: true},
	Doc:     "Share of finished boards of which every way and the sum, in every setting, stay within `board-spread`, %.",
	Type:    language.Type{Dims: []language.Dim{language.Share}, Min: 0.01, Max: 1},
	Default: demanded(0.95), Within: &BoardSpread,
}

package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardSpread is how far finished boards, with the tolerances of their parts, may
// depart from the prototype: the share of them that BoardYield demands stays within it.
var BoardSpread = Row{
	Promise: verify.Promise{Name: "board-spread", About: "spread of boards", Of: verify.Spread, Unit: words.DB, Loosened: three(words.DB)},
	Doc:     "How far ways and sum of finished boards, with the tolerances of their parts, may depart from the prototype within 20 dB of their peak, dB; for the share of boards that `board-yield` gives.",
	Type:    errorDB, Default: demanded(1),
}

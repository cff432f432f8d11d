package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardMatch is how far two finished boards may be apart from each other.
var BoardMatch = Row{
	Promise: verify.Promise{Name: "board-match", About: "difference between two boards", Of: verify.Match, Unit: words.DB, Loosened: three(words.DB)},
	Doc:     "How far ways and sum of two finished boards of one batch may depart from each other, dB; for the share of pairs that `board-yield` gives.",
	Type:    errorDB, Example: 0.5,
}

package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardPeak is how far a way may rise above the band, up to ten times the op-amps'
// gain-bandwidth.
var BoardPeak = Row{
	Promise: verify.Promise{Name: "board-peak", Of: verify.PeakAbove, Unit: words.DB, Loosened: three(words.DB)},
	Doc:     "How far a way's gain above the band, up to ten times the op-amps' gain-bandwidth, may exceed its greatest gain in the band, dB.",
	Type:    errorDB, Default: demanded(6),
}

package promise

import (
	"math"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// BoardYield is the share of finished boards of which every way and the sum keep to
// BoardSpread in every combination of settings.
var BoardYield = Row{
	Promise: verify.Promise{Name: "board-yield", About: "share of boards within board-spread", Of: verify.Yield, Unit: words.Share,
		LessIsWorse: true, AtLeast: true,
		Loosened: looserShare},
	Doc:     "Share of finished boards of which every way and the sum, in every setting, stay within `board-spread`, %.",
	Type:    language.Type{Dims: []language.Dim{language.Share}, Min: leastYield, Max: 1},
	Default: demanded(0.95), Within: &BoardSpread,
}

// leastYield is the least share that a spec may demand.
const leastYield = 0.01

// looserShare is a share rounded down to the tenth of a percent, or off.
func looserShare(share float64) string {
	if share < leastYield {
		return off
	}
	return words.Share.Limit(math.Floor(share*1000) / 1000)
}

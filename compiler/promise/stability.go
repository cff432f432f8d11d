package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Stability is that every pole lies inside the unit circle. No spec drops it.
var Stability = Row{
	Promise: verify.Promise{Name: "stability", Of: verify.PoleMargin, Unit: words.Margin, LessIsWorse: true},
	Doc:     "How far the outermost pole lies inside the unit circle: more than 0.",
	Default: demanded(0),
}

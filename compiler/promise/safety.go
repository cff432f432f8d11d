package promise

import (
	"bandwright/biquad/discretize"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Safety is that nothing rises where the prototype is quiet and no pole is too
// near to the unit circle, which no figure of error can replace. No spec drops
// it.
var Safety = Row{
	Promise: verify.Promise{Name: "safety", Of: verify.Excess, Unit: words.DB},
	Doc:     "How far the level in a stopband, or above the band, exceeds what the prototype allows, dB.",
	Default: demanded(discretize.MostExcessDB),
}

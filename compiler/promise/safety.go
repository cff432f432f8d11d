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
	Doc:     "How far a stop band, or the range above the band, rises over what the prototype allows there, dB.",
	Default: demanded(discretize.MostExcessDB),
}

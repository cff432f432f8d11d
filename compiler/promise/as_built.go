package promise

import (
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// AsBuilt is how far a finished unit that was measured may depart from the prototype.
// The same is demanded of the sum, where all ways were measured.
var AsBuilt = Row{
	Promise: verify.Promise{Name: "as-built", Of: verify.Magnitude, Unit: words.DB,
		Applies:  func(r verify.Realisation) bool { _, ok := r.(verify.Spanned); return ok },
		Loosened: three(words.DB)},
	Doc:  "How far ways and sum of a finished unit that was measured may depart from the prototype within 20 dB of their peak, dB; of no effect on what is compiled.",
	Type: errorDB, Default: demanded(1),
}

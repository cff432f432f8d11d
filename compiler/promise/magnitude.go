package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Magnitude is a way's error of magnitude.
var Magnitude = Row{
	Promise: verify.Promise{Name: "magnitude", Of: verify.Magnitude, Unit: words.DB,
		Applies:  func(r verify.Realisation) bool { return !hasStrays(r) && !AsBuilt.Applies(r) },
		Loosened: three(words.DB)},
	Doc:  "Largest error of a way's magnitude, dB.",
	Type: errorDB, Default: demanded(0.1), Null: true,
	Shapes: language.RealisesDigital,
	beside: []*Parameter{&DownTo},
}

// errorDB is an error in dB as a spec writes it.
var errorDB = language.Type{Dims: []language.Dim{language.Level}, Max: 100, Open: true}

// hasStrays reports whether a realisation hangs on more than its parts further
// down: it is held to another error of magnitude.
func hasStrays(r verify.Realisation) bool {
	_, ok := r.(verify.Strays)
	return ok
}

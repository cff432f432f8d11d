package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Magnitude is a way's error of magnitude.
var Magnitude = Row{
	Name: "magnitude", Doc: "Largest error of a way's magnitude, dB.",
	Type: errorDB, Default: demanded(0.1), Unit: words.DB, Written: words.DB, Null: true,
	Shapes: language.RealisesDigital,
	beside: []*Parameter{&DownTo},
}

// errorDB is an error in dB as a spec writes it.
var errorDB = language.Type{Dims: []language.Dim{language.Level}, Max: 100, Open: true}

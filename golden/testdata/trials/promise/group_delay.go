package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// GroupDelay is a way's error of group delay after the common delay.
var GroupDelay = Row{
	Promise: verify.Promise{Name: "group-delay", Of: verify.GroupDelay, Unit: words.Second,
		Loosened: func(s float64) string { return upTo3(s*1000) + " ms" }},
	Doc:     "Largest error of a way's group delay within 20 dB of its peak, s.",
	Type:    language.Type{Dims: []language.Dim{language.Time}, Max: 1, Open: true},
	Example: 0.0001, Shapes: language.RealisesDigital,
}

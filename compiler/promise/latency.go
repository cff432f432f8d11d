package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Latency is a way's delay, that of its prototype included.
var Latency = Row{
	Promise: verify.Promise{Name: "latency", Of: verify.Latency, Unit: words.Second,
		Loosened: func(s float64) string { return upTo3(s*1000) + " ms" }},
	Doc:     "Largest delay beyond the prototype's, s.",
	Type:    language.Type{Dims: []language.Dim{language.Time}, Min: 0, Max: 10},
	Example: 0.002, Null: true,
}

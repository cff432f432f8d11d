package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Latency is a way's delay, that of its prototype included.
var Latency = Row{
	Name: "latency", Doc: "Most delay beyond the prototype's, s.",
	Type:    language.Type{Dims: []language.Dim{language.Time}, Min: 0, Max: 10},
	Example: 0.002, Unit: words.Second, Written: words.Second, Null: true,
}

package promise

import (
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Headroom is how far outputs stay from full scale. A finding tells the level.
var Headroom = Row{
	Promise: verify.Promise{Name: "headroom", Of: verify.Peak, Unit: words.DBFS,
		Slack: rounding},
	Doc:  "Least headroom for a full-scale sine at any frequency, dB.",
	Type: distanceDB, Default: demanded(0), Written: words.DB, Distance: true, Null: true,
}

// distanceDB is a distance in level as a spec writes it.
var distanceDB = language.Type{Dims: []language.Dim{language.Level}, Min: -120, Max: 120}

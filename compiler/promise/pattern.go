package promise

import (
	"fmt"
	"math"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Pattern is how unlike neighbouring ways radiate off the axis where they cross.
var Pattern = Row{
	Promise: verify.Promise{Name: "pattern", Unit: words.DB, Loosened: three(words.DB)},
	Doc:     "How far apart neighbouring ways are at 30, 45 and 60 degrees off the axis where they are equally loud on it, dB.",
	InAir:   true, Type: errorDB, Example: 3,
}

func patterns(a Air, limit float64) []verify.Finding {
	var out []verify.Finding
	for _, m := range a.Meetings {
		db, degrees := m.Worst()
		f := verify.Finding{Promise: Pattern.Name, About: fmt.Sprintf("patterns of %s and %s", m.Lower, m.Upper), Realisation: OfPrototype, Way: m.Lower + "+" + m.Upper, With: []verify.Choice{},
			Limit: limit, Worst: math.Abs(db), Unit: words.DB, AtHz: m.Hz, Kept: math.Abs(db) <= limit, Of: 1,
			Note: fmt.Sprintf("at %s degrees %s is %s louder than %s, re the axis", words.Exact(degrees), m.Upper, words.Level(db, "dB"), m.Lower)}
		if !f.Kept {
			f.Broken = 1
			f.Remedy = "no crossover within two octaves does: " + "allow promise." + Pattern.Name + ": " + Pattern.Loosened(f.Worst)
			if hz := acoustic.AlikeHz(a.System, m, limit); hz > 0 {
				f.Remedy = fmt.Sprintf("they are within %s dB at %s: move the crossover until they are equally loud there", words.Exact(limit), words.Hz(hz))
			}
		}
		out = append(out, f)
	}
	return out
}

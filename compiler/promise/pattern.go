package promise

import (
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/acoustic"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Pattern is how unlike neighbouring ways radiate off the axis where they cross.
var Pattern = Row{
	Promise: verify.Promise{Name: "pattern", Unit: words.DB, Loosened: three(words.DB)},
	Doc:     "How far apart neighbouring ways are at 30, 45 and 60 degrees off the axis where they are equally loud on it, in any setting, dB.",
	InAir:   true, Type: errorDB, Example: 3,
}

func patterns(a Air, limit float64) []verify.Finding {
	var out []verify.Finding
	for _, h := range a.Heard {
		found := map[string]*verify.Finding{} // by the lower way
		var worst []acoustic.Meeting
		var order []*verify.Finding
		for _, c := range h.Crossed {
			for _, m := range c.Meetings {
				f := found[m.Lower]
				if f == nil {
					f = &verify.Finding{Promise: Pattern.Name, About: fmt.Sprintf("patterns of %s and %s", m.Lower, m.Upper), Realisation: h.Realisation,
						Way: m.Lower + "+" + m.Upper, Limit: limit, Worst: -1, Unit: words.DB, Kept: true}
					found[m.Lower] = f
					order, worst = append(order, f), append(worst, m)
				}
				db, _ := m.Worst()
				f.Of++
				if math.Abs(db) > limit {
					f.Broken++
					f.Kept = false
				}
				if math.Abs(db) > f.Worst+rounding {
					f.Worst, f.AtHz, f.C, f.With = math.Abs(db), m.Hz, c.C, choices(c.With)
					worst[slices.Index(order, f)] = m
				}
			}
		}
		for i, f := range order {
			explain(f, a.System, worst[i])
			out = append(out, *f)
		}
	}
	return out
}

// explain says what a finding on patterns is about, and what would mend it.
func explain(f *verify.Finding, s *acoustic.System, m acoustic.Meeting) {
	db, degrees := m.Worst()
	f.Note = fmt.Sprintf("at %s degrees %s is %s louder than %s, re the axis", words.Exact(degrees), m.Upper, words.Level(db, "dB"), m.Lower)
	var rows []string
	for _, w := range s.Rows() {
		if w == m.Lower || w == m.Upper {
			rows = append(rows, w)
		}
	}
	if rows != nil {
		f.Note += "; the drivers of " + words.List(rows) + " count as one place"
	}
	if f.Kept {
		return
	}
	f.Remedy = "no crossover within two octaves does: " + "allow promise." + Pattern.Name + ": " + Pattern.Loosened(f.Worst)
	if hz := acoustic.AlikeHz(s, m, f.Limit); hz > 0 {
		f.Remedy = fmt.Sprintf("they are within %s dB at %s: move the crossover until they are equally loud there", words.Exact(f.Limit), words.Hz(hz))
	}
}

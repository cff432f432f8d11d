package report

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// forms says in which form every section is kept, and what the other forms
// would have cost.
func forms(p *page, d compiler.Digital) {
	p.heading(fmt.Sprintf("Forms of the sections, %s %s: the one with the least computed error, re the section's own peak",
		words.Rate(d.RateHz), d.Format.Name))
	var t words.Table
	t.Row("section", "form", "error", "passed over")
	add := func(c biquad.Cascade[biquad.Digital], errors []number.SectionError) {
		for i, s := range c.Slots {
			e := errors[i]
			var passed []string
			for _, o := range e.Passed {
				passed = append(passed, o.Form.String()+" "+decibels(o))
			}
			if e.Pulled {
				passed = append(passed, "poles moved inwards: no form holds them")
			}
			t.Row(words.Cut(strings.Join(s.From, ", "), sectionWidth), e.Form.String(), decibels(e), strings.Join(passed, ", "))
		}
	}
	add(d.System.Common, d.CommonErrors)
	for k, w := range d.System.Ways {
		add(w.Cascade, d.WayErrors[k])
	}
	p.table(&t)
}

// sectionWidth is where the spec lines of a section are cut.
const sectionWidth = 52

func decibels(e number.SectionError) string {
	if e.Unstable {
		return "unstable"
	}
	return words.Level(e.TotalDB, "dB")
}

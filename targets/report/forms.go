package report

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// forms says in which form every section is kept, and what the other forms
// would have cost.
func forms(p *page, d compiler.Digital) {
	p.heading(fmt.Sprintf("Section forms, %s %s: least computed rounding error, re the section's peak",
		words.Rate(d.RateHz), d.Format.Name))
	var t words.Table
	t.Row("section", "form", "error", "rejected")
	add := func(c biquad.Cascade[biquad.Digital]) {
		for _, s := range c.Slots {
			e := s.Error
			var passed []string
			for _, o := range e.Passed {
				passed = append(passed, o.Form.String()+" "+decibels(o))
			}
			if e.Pulled {
				passed = append(passed, "poles moved inwards: no form can represent them")
			}
			t.Row(strings.Join(lines(s), ", "), e.Form.String(), decibels(e), strings.Join(passed, ", "))
		}
	}
	add(d.System.Common)
	for _, w := range d.System.Ways {
		add(w.Cascade)
	}
	p.table(&t)
}

// lines are the spec lines of all alternatives, each once. A pass-through is
// called after the lines that it leaves out, joined by plus signs.
func lines(s biquad.Slot[biquad.Digital]) []string {
	var out []string
	for _, f := range s.From {
		out = append(out, strings.Split(f, " + ")...)
	}
	return words.Once(out)
}

func decibels(e biquad.SectionError) string {
	if e.Unstable {
		return "unstable"
	}
	return words.Level(e.TotalDB, "dB")
}

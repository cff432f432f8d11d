package main

import (
	"strings"

	"bandwright/compiler/finished"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// text is what check prints of finished units.
func (d *desk) text(bench *finished.Desk, all []*finished.Result) string {
	var lines []string
	add := func(text, first string) { lines = append(lines, words.Wrap(text, first, "  ", summaryWidth)...) }
	head := d.b.Spec.Name
	if d.b.Spec.Revision != "" {
		head += ", revision " + d.b.Spec.Revision
	}
	add(head+": "+bench.Head(len(all)), "")
	var findings []verify.Finding
	for _, r := range all {
		findings = append(findings, r.Findings...)
	}
	if len(all) == 1 {
		lines = append(lines, d.one(bench, all[0], findings)...)
	} else {
		lines = append(lines, d.several(all)...)
	}
	for _, n := range d.notes {
		add(n, "* ")
	}
	return strings.Join(lines, "\n") + "\n"
}

// one tells of one unit.
func (d *desk) one(bench *finished.Desk, r *finished.Result, findings []verify.Finding) []string {
	var lines []string
	add := func(text, first string) { lines = append(lines, words.Wrap(text, first, "  ", summaryWidth)...) }
	add(finished.Verdict([]*finished.Result{r}), "")
	if text := bench.Took(r); text != "" {
		add(text, "")
	}
	lines = append(lines, "")
	var t words.Table
	t.Row("", "magnitude", "at", "phase", "at")
	for _, f := range r.Figures {
		t.Row(f.Way, extreme(f.Magnitude, "dB"), at(f.Magnitude), extreme(f.Phase, "deg"), at(f.Phase))
	}
	lines = append(append(lines, t.Lines("  ", summaryWidth)...), "")
	for _, f := range findings {
		if !f.Kept {
			add(f.Head()+": "+f.Where(), "* ")
		}
	}
	add("diagnosis: "+r.Sentences[0], "")
	for _, s := range r.Sentences[1:] {
		add(s, "  ")
	}
	for _, x := range r.Trims {
		add("trim: "+x.String(), "")
	}
	return lines
}

func extreme(e verify.Extreme, unit string) string {
	if !e.Known {
		return "-"
	}
	return words.Signed(e.Value, unit)
}

func at(e verify.Extreme) string {
	if !e.Known {
		return "-"
	}
	return words.Hz(e.AtHz)
}

// several tells of several units, a line each, and of all together.
func (d *desk) several(all []*finished.Result) []string {
	var lines []string
	b := finished.BatchOf(all)
	lines = append(lines, finished.Verdict(all), "")
	var t words.Table
	t.Row("unit", "verdict", "worst", "level", "diagnosis")
	for _, r := range all {
		kept := "kept"
		if !r.Kept() {
			kept = "broken: " + strings.Join(r.Broken(), ", ")
		}
		t.Row(r.Unit, kept, words.Error(r.WorstDB(), "dB"), words.Level(r.LevelDB, "dB"), words.Cut(r.Short(), 60))
	}
	lines = append(append(lines, t.Lines("  ", summaryWidth)...), "")
	add := func(text string) { lines = append(lines, words.Wrap(text, "", "  ", summaryWidth)...) }
	add("batch: " + b.Statistics())
	if text := b.Nearest(all); text != "" {
		add(text)
	}
	return lines
}

package main

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler/finished"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// text is what check prints of finished units.
func (d *desk) text(bench *finished.Desk, all []*finished.Result) string {
	var lines []string
	add := func(text, first string) { lines = append(lines, words.Wrap(text, first, "  ", summaryWidth)...) }
	var ways []string
	for _, w := range d.terms.Ways {
		ways = append(ways, d.b.Spec.Ways[w].Name)
	}
	head := d.b.Spec.Name
	if d.b.Spec.Revision != "" {
		head += ", revision " + d.b.Spec.Revision
	}
	head += fmt.Sprintf(": %s, %s measured as %s, %s to %s", words.Count(len(all), "unit", "units"), words.List(ways), bench.Kind(), words.Hz(d.terms.LowHz), words.Hz(d.terms.HighHz))
	if s := bench.Settings(); s != "" {
		head += "; " + s
	}
	add(head, "")
	var findings []verify.Finding
	for _, r := range all {
		findings = append(findings, r.Findings...)
	}
	if len(all) == 1 {
		lines = append(lines, d.one(all[0], findings)...)
	} else {
		lines = append(lines, d.several(all)...)
	}
	for _, n := range d.notes {
		add(n, "* ")
	}
	return strings.Join(lines, "\n") + "\n"
}

// one tells of one unit.
func (d *desk) one(r *finished.Result, findings []verify.Finding) []string {
	var lines []string
	add := func(text, first string) { lines = append(lines, words.Wrap(text, first, "  ", summaryWidth)...) }
	add(verify.VerdictOn(findings).String(), "")
	if text := d.took(r); text != "" {
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

// took says what level and delay were taken out of a measurement.
func (d *desk) took(r *finished.Result) string {
	var out []string
	if d.terms.FitLevel {
		out = append(out, "the level, "+words.Level(r.LevelDB, "dB")+" beside the nominal one")
	}
	if d.terms.FitDelay && d.terms.Phased {
		out = append(out, "a delay of "+words.Seconds(r.DelayS))
	}
	if out == nil {
		return ""
	}
	return "taken out of the measurement: " + strings.Join(out, ", and ")
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
	verdict := fmt.Sprintf("KEPT: all %d units", b.Units)
	if b.Kept < b.Units {
		verdict = fmt.Sprintf("BROKEN: %d of %d units", b.Units-b.Kept, b.Units)
	}
	lines = append(lines, verdict, "")
	var t words.Table
	t.Row("unit", "verdict", "worst", "level", "diagnosis")
	for _, r := range all {
		kept := "kept"
		if !r.Kept() {
			kept = "broken"
		}
		t.Row(r.Unit, kept, words.Error(r.WorstDB(), "dB"), words.Level(r.LevelDB, "dB"), words.Cut(r.Sentences[0], 60))
	}
	lines = append(append(lines, t.Lines("  ", summaryWidth)...), "")
	add := func(text string) { lines = append(lines, words.Wrap(text, "", "  ", summaryWidth)...) }
	add(fmt.Sprintf("batch: half of the units are within %s of the prototype, all within %s; from the first to the last the level moved by %s, and each is %s off that",
		words.Error(b.MedianDB, "dB"), words.Error(b.WorstDB, "dB"), words.Level(b.DriftDB, "dB"), words.Error(math.Max(b.ScatterDB, words.Floor), "dB")))
	var pairs []string
	for _, p := range b.Pairs {
		pairs = append(pairs, fmt.Sprintf("%s and %s (%s apart)", all[p.A].Unit, all[p.B].Unit, words.Error(p.ApartDB, "dB")))
	}
	if pairs != nil {
		add("left and right, the most alike first: " + strings.Join(pairs, ", "))
	}
	return lines
}

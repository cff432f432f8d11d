package explain

import (
	"fmt"
	"math"

	"bandwright/compiler/batch"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// spread tells the parts that make most of what boards of a batch differ by, of one way
// and the sum, or of all ways where way is "".
func (e *stages) spread(way string) {
	x := e.b.Batch
	if x == nil {
		return
	}
	e.out.WriteString("\nparts that make most of the spread of boards\n")
	e.line("  ", "where the level of a way, or of the sum, differs most from board to board: each part's share of the variance, and what 1 % more of it does there")
	for _, r := range x.Rows {
		if way != "" && r.Name != way && r.Name != verify.SumName {
			continue
		}
		at := fmt.Sprintf("%s at %s", r.Name, words.Hz(r.Widest.Hz))
		if len(r.Widest.With) > 0 {
			at += " with " + verify.Choices(r.Widest.With)
		}
		e.line("  ", fmt.Sprintf("%s: standard deviation %s", at, words.DB.Measured(r.Widest.DB)))
		var parts []string
		for _, m := range r.Matters {
			parts = append(parts, matter(m))
		}
		e.phrases("    ", "", parts)
	}
}

// purchase lists the parts that are bought in a closer class than the loosest.
func (e *stages) purchase() {
	p := e.b.Batch.Bought()
	if p == nil {
		return
	}
	e.out.WriteString("\nclasses of parts\n")
	what := "each part has the loosest class with which the promised yield holds; none alone can be looser"
	if !p.Kept {
		what = "not even the closest class of every part keeps the promised yield"
	}
	e.line("  ", what)
	for _, s := range p.Sentences(0) {
		e.line("  ", s)
	}
}

// matter is a part with what it makes of the spread.
func matter(m batch.Matter) string {
	unit := "ohm"
	if m.Kind == netlist.Capacitor {
		unit = "F"
	}
	return fmt.Sprintf("%s %s (%.0f %%, %+.2f dB)", m.Ref, words.Part(m.Value, unit), math.Round(100*m.Share), m.DBPerPercent)
}

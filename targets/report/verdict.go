package report

import (
	"fmt"
	"math"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Promise is what became of one promise over all its checks.
type Promise struct {
	Name          string
	Worst         verify.Finding
	Checks, Fails int // findings, and those that are not kept
}

// Kept reports whether every check held.
func (p Promise) Kept() bool { return p.Fails == 0 }

// Promises gathers the findings by promise, in the order that they first
// occur.
func Promises(b *compiler.Build) []Promise {
	var out []Promise
	at := map[string]int{}
	for _, f := range b.Findings {
		i, seen := at[f.Promise]
		if !seen {
			i = len(out)
			at[f.Promise] = i
			out = append(out, Promise{Name: f.Promise, Worst: f})
		}
		p := &out[i]
		p.Checks++
		if !f.Kept {
			p.Fails++
		}
		if worse(f, p.Worst) {
			p.Worst = f
		}
	}
	return out
}

// worse reports whether a is further on the wrong side than b. A margin is
// the better the greater it is, every other figure the smaller.
func worse(a, b verify.Finding) bool {
	if a.Unit == marginUnit {
		return a.Worst < b.Worst
	}
	return a.Worst > b.Worst
}

// marginUnit is the unit of a pole margin, the one figure that must be large.
const marginUnit = "1-|z|"

// Kept reports whether every promise is kept.
func Kept(b *compiler.Build) bool {
	for _, f := range b.Findings {
		if !f.Kept {
			return false
		}
	}
	return true
}

// Verdict is one sentence: kept or broken, and how many promises of how many.
func Verdict(b *compiler.Build) string {
	promises := Promises(b)
	var broken []string
	fails := 0
	for _, p := range promises {
		if !p.Kept() {
			broken = append(broken, p.Name)
			fails += p.Fails
		}
	}
	checks := words.Count(len(b.Findings), "check", "checks")
	switch {
	case len(promises) == 0:
		return "KEPT: the spec asks for no promise"
	case len(broken) == 0 && len(promises) == 1:
		return fmt.Sprintf("KEPT: the one promise holds, in %s", checks)
	case len(broken) == 0:
		return fmt.Sprintf("KEPT: all %d promises hold, in %s", len(promises), checks)
	}
	return fmt.Sprintf("BROKEN: %s of %d not kept: %s (%d of %s)",
		words.Count(len(broken), "promise", "promises"), len(promises), words.List(broken), fails, checks)
}

// Breaks are the sentences of a broken finding: what, by how much, where, and
// what to change.
func Breaks(f verify.Finding) (head string, body []string) {
	of := f.Way
	switch of {
	case "":
		of = "all ways"
	case verify.SumName:
		of = "the sum of the ways"
	}
	head = fmt.Sprintf("%s of %s, %s", f.Promise, of, f.Realisation)
	if f.Promise == verify.SumName {
		head = fmt.Sprintf("sum of the ways, %s", f.Realisation)
	}
	var what strings.Builder
	what.WriteString(words.Quantity(f.Worst, f.Unit))
	if f.AtHz > 0 {
		what.WriteString(" at " + words.Hz(f.AtHz))
	}
	if f.Unit == marginUnit {
		what.WriteString(", more than 0 needed")
	} else {
		what.WriteString(", where " + words.Limit(f.Limit, f.Unit) + " is allowed")
	}
	if f.Of > 1 {
		fmt.Fprintf(&what, "; broken in %d of %d combinations of settings", f.Broken, f.Of)
	}
	body = append(body, what.String())
	if len(f.Setting) > 0 {
		body = append(body, "worst with "+choices(f.Setting))
	}
	if f.Note != "" {
		body = append(body, f.Note)
	}
	if f.Remedy != "" {
		body = append(body, "to keep it: "+f.Remedy)
	}
	return head, body
}

// choices reads "placement: wall, cloth: none".
func choices(cs []verify.Choice) string {
	var out []string
	for _, c := range cs {
		out = append(out, c.Setting+": "+c.Choice)
	}
	return strings.Join(out, ", ")
}

// TopOctave is the worst magnitude error of any way in the upper octave of the
// band in one realisation, and the way. It is not Known where no way reaches
// that high.
func TopOctave(figures []verify.Figures) (way string, worst verify.Extreme) {
	for _, f := range figures {
		if f.TopOctave.Known && (!worst.Known || math.Abs(f.TopOctave.Value) > math.Abs(worst.Value)) {
			way, worst = f.Way, f.TopOctave
		}
	}
	return way, worst
}

// Of are the figures of one realisation.
func Of(b *compiler.Build, realisation string) []verify.Figures {
	var out []verify.Figures
	for _, f := range b.Figures {
		if f.Realisation == realisation {
			out = append(out, f)
		}
	}
	return out
}

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
	are := "are"
	if len(broken) == 1 {
		are = "is"
	}
	return fmt.Sprintf("BROKEN: %d of %s %s not kept: %s (%d of %s)", len(broken),
		words.Count(len(promises), "promise", "promises"), are, words.List(broken), fails, checks)
}

// Break is one promise that one way, or the sum, breaks in some realisations.
type Break struct {
	Findings []verify.Finding // the broken ones, in their order
	Worst    verify.Finding
	Checks   int // findings of this promise and way, kept or not
}

// Breaks gathers the broken findings by promise and way: number formats
// mostly break the same promise at the same place.
func Breaks(b *compiler.Build) []Break {
	type key struct{ promise, way string }
	var out []Break
	at := map[key]int{}
	checks := map[key]int{}
	for _, f := range b.Findings {
		k := key{f.Promise, f.Way}
		checks[k]++
		if f.Kept {
			continue
		}
		i, seen := at[k]
		if !seen {
			i = len(out)
			at[k] = i
			out = append(out, Break{Worst: f})
		}
		out[i].Findings = append(out[i].Findings, f)
		if worse(f, out[i].Worst) {
			out[i].Worst = f
		}
	}
	for i, x := range out {
		out[i].Checks = checks[key{x.Worst.Promise, x.Worst.Way}]
	}
	return out
}

// Head says which promise is broken, by what, and what is allowed: "magnitude
// of mid, 0.1 dB allowed".
func (x Break) Head() string {
	f := x.Worst
	what := f.Promise + " of " + f.Way
	switch {
	case f.Promise == verify.SumName:
		what = "sum of the ways"
	case f.Way == verify.SumName:
		what = f.Promise + " of the sum of the ways"
	case f.Unit == "filters":
		return "the board cannot be built"
	case f.Way == "":
		what = f.Promise
	}
	if f.Unit == marginUnit {
		return what + ", more than 0 needed"
	}
	return what + ", " + words.Limit(f.Limit, f.Unit) + " allowed"
}

// Where says how much a finding is and where: "7.31 dB at 19.84 kHz, digital
// 48 kHz float32, with grille: woven (12 of 24 combinations)".
func Where(f verify.Finding) string {
	if f.Unit == "filters" {
		return fmt.Sprintf("%s: %s", f.Note, words.Count(int(f.Worst), "reason, among the warnings", "reasons, among the warnings"))
	}
	s := words.Quantity(f.Worst, f.Unit)
	if f.AtHz > 0 {
		s += " at " + words.Hz(f.AtHz)
	}
	s += ", " + f.Realisation
	if len(f.Setting) > 0 {
		s += ", with " + choices(f.Setting)
	}
	if f.Of > 1 {
		s += fmt.Sprintf(" (%d of %d combinations)", f.Broken, f.Of)
	}
	if f.Note != "" {
		s += "; " + f.Note
	}
	return s
}

// choices reads "placement: wall, grille: none".
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

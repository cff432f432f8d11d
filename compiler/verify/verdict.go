package verify

import (
	"fmt"
	"slices"

	"bandwright/compiler/words"
)

// Verdict is what became of all promises.
type Verdict struct {
	Promises []Outcome // in the order that they first occur
	Breaks   []Break   // by promise and way, in that order
	findings []Finding
}

// Outcome is what became of one promise over all its checks.
type Outcome struct {
	Promise       string
	Worst         Finding
	Checks, Fails int // findings, and those that are not kept
}

// Kept reports whether every check held.
func (o Outcome) Kept() bool { return o.Fails == 0 }

// Break is one promise that one way, or the sum, breaks in some realisations:
// number formats mostly break the same promise at the same place.
type Break struct {
	Findings []Finding // the broken ones, in their order
	Worst    Finding
	Checks   int // findings of this promise and way, kept or not
}

// VerdictOn gathers findings.
func VerdictOn(findings []Finding) Verdict {
	v := Verdict{findings: findings}
	type place struct{ promise, way string }
	promises := map[string]int{}
	breaks := map[place]int{}
	checks := map[place]int{}
	for _, f := range findings {
		i, seen := promises[f.Promise]
		if !seen {
			i = len(v.Promises)
			promises[f.Promise] = i
			v.Promises = append(v.Promises, Outcome{Promise: f.Promise, Worst: f})
		}
		o := &v.Promises[i]
		o.Checks++
		if f.worse(o.Worst) {
			o.Worst = f
		}
		at := place{f.Promise, f.Way}
		checks[at]++
		if f.Kept {
			continue
		}
		o.Fails++
		k, seen := breaks[at]
		if !seen {
			k = len(v.Breaks)
			breaks[at] = k
			v.Breaks = append(v.Breaks, Break{Worst: f})
		}
		b := &v.Breaks[k]
		b.Findings = append(b.Findings, f)
		if f.worse(b.Worst) {
			b.Worst = f
		}
	}
	for i, b := range v.Breaks {
		v.Breaks[i].Checks = checks[place{b.Worst.Promise, b.Worst.Way}]
	}
	return v
}

// Kept reports whether every promise is kept.
func Kept(findings []Finding) bool {
	return !slices.ContainsFunc(findings, func(f Finding) bool { return !f.Kept })
}

// Of counts the checks of one way, or of the sum, in one realisation, and those
// that failed.
func (v Verdict) Of(realisation, way string) (checks, fails int) {
	for _, f := range v.findings {
		if f.Realisation == realisation && f.Way == way {
			checks++
			if !f.Kept {
				fails++
			}
		}
	}
	return checks, fails
}

// String is one sentence: kept or broken, and how many promises of how many.
func (v Verdict) String() string {
	var broken []string
	fails := 0
	for _, o := range v.Promises {
		if !o.Kept() {
			broken = append(broken, o.Promise)
			fails += o.Fails
		}
	}
	checks := words.Count(len(v.findings), "check", "checks")
	switch {
	case len(v.Promises) == 0:
		return "KEPT: the spec has no promises"
	case len(broken) == 0 && len(v.Promises) == 1:
		return fmt.Sprintf("KEPT: the one promise holds, in %s", checks)
	case len(broken) == 0:
		return fmt.Sprintf("KEPT: all %d promises hold, in %s", len(v.Promises), checks)
	}
	are := "are"
	if len(broken) == 1 {
		are = "is"
	}
	return fmt.Sprintf("BROKEN: %d of %s %s not kept: %s (%d of %s)", len(broken),
		words.Count(len(v.Promises), "promise", "promises"), are, words.List(broken), fails, checks)
}

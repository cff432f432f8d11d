package judge

import (
	"fmt"
	"testing"

	"bandwright/biquad/discretize"
	"bandwright/biquad/number"
	"bandwright/compiler/prototype"
)

// Everything that the language can say occurs in the generated specs: what
// the compiler's tables list, and what makes a system of it.
func TestEverythingOccurs(t *testing.T) {
	specs := generated()
	have := map[string]int{}
	for _, w := range specs {
		for k := range w.features {
			have[k]++
		}
		for k := range w.system.features() {
			have[k]++
		}
	}
	occurs := func(least int, format string, args ...any) {
		t.Helper()
		if what := fmt.Sprintf(format, args...); have[what] < least {
			t.Errorf("%s: in %d of %d specs, want %d", what, have[what], len(specs), least)
		}
	}

	if len(specs) < 60 {
		t.Errorf("%d specs, want 60", len(specs))
	}
	for _, k := range prototype.Kinds {
		occurs(3, "kind %s", k.Name)
		if !k.NoWhen {
			occurs(1, "kind %s under a setting", k.Name)
		}
	}
	for _, f := range prototype.Families {
		for n := 1; n <= prototype.MaxOrder; n++ {
			if f.EvenOnly && n%2 != 0 {
				continue
			}
			occurs(1, "low-pass %s of order %d", f.Name, n)
			occurs(1, "high-pass %s of order %d", f.Name, n)
		}
	}
	for _, by := range []string{"level", "delay", "phase"} {
		occurs(3, "scaled-by %s", by)
	}
	for _, v := range variants {
		occurs(1, "variant %s", v)
	}
	for _, n := range []int{1, 2, 3, 4, 6, 12} {
		occurs(1, "rational of order %d", n)
	}
	for layout := range 9 {
		occurs(1, "layout %d of roots", layout)
	}
	for _, r := range rates {
		occurs(5, "rate %s", r)
	}
	for _, f := range number.Formats {
		least := len(specs) / 2
		if f.GuardBits > 0 { // fixed point, whose arithmetic other tests judge
			least = len(specs) / 8
		}
		occurs(least, "format %s", f.Name)
	}
	for _, m := range discretize.Methods() {
		occurs(6, "method %s", m.Name)
		occurs(2, "fixed point by %s", m.Name)
	}
	for n := 1; n <= 4; n++ {
		occurs(10, "%d ways", n)
	}
	for _, mode := range []string{"none", "all-pass", "exact"} {
		occurs(8, "phase-compensation %s", mode)
	}
	occurs(len(specs)/2, "settings")
	occurs(len(specs)/2, "delays")
	for _, what := range []string{
		"crossover written once", "crossover with two sides", "crossover of two families", "way without a crossover",
		"polarity inverted", "gain of a way", "zeros on the right",
		"one setting in a when", "two settings in one when", "list of choices", "exclusive filters", "gain under a setting",
		"common filter under a setting", "delay as a time", "delay as a length", "filter delay", "common delay", "method of a filter",
		"fraction of a sample", "whole samples",
	} {
		occurs(3, "%s", what)
	}
}

// features are what a description itself shows.
func (s system) features() map[string]bool {
	have := map[string]bool{}
	note := func(format string, args ...any) { have[fmt.Sprintf(format, args...)] = true }
	look := func(f filter, common bool) {
		note("kind %s", f.Kind)
		if family := f.Word["family"]; family != "" {
			note("%s %s of order %d", f.Kind, family, int(f.Num["order"]))
			if family == "bessel" {
				note("scaled-by %s", f.Word["scaled-by"])
			}
		}
		if f.Kind == "delay" {
			note("delays")
			if common {
				note("common delay")
			}
		}
		switch len(f.When) {
		case 0:
			return
		case 1:
			note("one setting in a when")
		}
		note("kind %s under a setting", f.Kind)
		if common {
			note("common filter under a setting")
		}
	}
	for _, f := range s.Common {
		look(f, true)
	}
	for _, w := range s.Ways {
		for _, f := range w.Filters {
			look(f, false)
		}
		if w.DelayS > 0 {
			note("delays")
		}
	}
	for _, x := range s.Crossovers {
		look(x.Low, false)
		look(x.High, false)
	}
	return have
}

package design

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad/discretize"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// checks are the questions of meaning that need the whole prototype: corners
// against the rates, ways without a crossover.
func (r *resolved) checks() []language.Fault {
	faults := r.cornersAgainstRates()
	if len(r.spec.Ways) > 1 {
		for i, w := range r.spec.Ways {
			if !slices.ContainsFunc(r.spec.Crossovers, func(x language.Crossover) bool { return x.Lower == i || x.Upper == i }) {
				faults = append(faults, r.spec.Fault(language.Warning, w.Pos,
					fmt.Sprintf("no crossover applies to the way `%s`: it runs full range", w.Name),
					"add an entry to `crossovers` that names it, or ignore this if intended"))
			}
		}
	}
	return faults
}

// cornersAgainstRates finds filters whose corner is not below half of a rate:
// an error for a method that cannot realise them, otherwise a warning.
func (r *resolved) cornersAgainstRates() []language.Fault {
	if r.spec.Digital == nil {
		return nil
	}
	m, _ := discretize.ByName(r.spec.Digital.Method)
	severity, right := language.Warning, "the realisation follows the prototype only below half the rate"
	if m.BelowNyquist {
		severity = language.Error
		right = fmt.Sprintf("method `%s` needs every corner below half of every rate: lower the corner or leave the rate out", m.Name)
	}
	rate := slices.Min(r.spec.Digital.RatesHz)
	var faults []language.Fault
	look := func(l line) {
		top := 0.0
		for _, s := range l.ideal.Sections {
			if s.Order() > 0 {
				top = math.Max(top, hertz(s.Keep))
			}
		}
		if top < rate/2 {
			return
		}
		at := l.Pos
		for _, key := range []string{"at", "to"} {
			if v := l.Args.Get(key); v != nil {
				at = v.Pos
			}
		}
		faults = append(faults, r.spec.Fault(severity, at,
			fmt.Sprintf("the corner %s is not below half of the rate %s", words.Hz(top), words.Rate(rate)), right))
	}
	for _, l := range r.common {
		look(l)
	}
	for i, w := range r.spec.Ways {
		for _, l := range r.ways[i][:len(w.Filters)] {
			look(l)
		}
	}
	for _, x := range r.crossovers {
		look(x.low)
		if !x.Same {
			look(x.high)
		}
	}
	return faults
}

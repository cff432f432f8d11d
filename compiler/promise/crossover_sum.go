package promise

import (
	"fmt"
	"math"

	"bandwright/compiler/design"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// CrossoverSum is how far from 0 dB the crossovers alone may sum, ideal and in
// the spec's polarities. It is a promise of the spec about itself: no
// realisation can mend it.
var CrossoverSum = Row{
	Promise: verify.Promise{Name: "crossover-sum", Unit: words.DB, Slack: halfPower,
		Loosened: three(words.DB)},
	Doc:  "How far from 0 dB the ideal crossovers alone may sum in the chosen polarities: the two sides of each, and all ways, dB.",
	Type: errorDB, Default: demanded(3), Driven: &Limit{},
}

// halfPower (dB) is what 10·lg 2 is beyond the 3 dB that it is called: two
// Butterworth sides of even order sum to it.
const halfPower = 0.0103

// OfPrototype is what findings on the spec itself call the realisation.
const OfPrototype = "prototype"

// Crossovers holds a design's crossovers to the promise: the two sides of each
// and, where each way is joined to the next, three ways or more.
func (p Promises) Crossovers(d *design.Design) []verify.Finding {
	limit := p.Limit(&CrossoverSum)
	if !limit.On {
		return nil
	}
	remedy := turning(d)
	var out []verify.Finding
	add := func(way, about string, e, turned design.Extremes, other string) {
		worst, hz := e.Worst()
		f := verify.Finding{Promise: CrossoverSum.Name, About: "crossover sum of " + about, Realisation: OfPrototype, Way: way, With: []verify.Choice{},
			Limit: limit.Value, Worst: worst, Unit: words.DB, AtHz: hz, Kept: worst <= limit.Value+halfPower, Of: 1}
		if !f.Kept {
			f.Broken = 1
			if -e.LowDB >= cancelDB {
				f.Note = "the ways cancel there"
			}
			f.Remedy = other
			if t, _ := turned.Worst(); remedy != "" && t < worst {
				f.Remedy = fmt.Sprintf("%s, which would leave %s", remedy, words.Level(t, "dB"))
				if t > limit.Value+halfPower {
					f.Remedy += ", and " + allowing(t)
				}
			}
			if f.Remedy == "" { // no advice to allow what can be mended
				f.Remedy = "no polarity and no phase-compensation does: " + allowing(worst)
			}
		}
		out = append(out, f)
	}
	for i, x := range d.Pairs {
		var turned design.Extremes
		if d.Turned.Ways != nil {
			turned = d.Turned.Pairs[i].Extremes
		}
		add(x.Lower+"+"+x.Upper, x.Lower+" and "+x.Upper, x.Extremes, turned, "")
	}
	if len(d.Pairs) > 1 && d.Chained {
		for _, s := range d.Sums {
			if s.Chosen {
				add(verify.SumName, "all ways", s.Extremes, d.Turned.All, compensating(d.Sums, s, limit.Value))
			}
		}
	}
	return out
}

// allowing is the advice to allow a sum that departs so far (dB).
func allowing(db float64) string {
	return fmt.Sprintf("allow promise.%s: %s", CrossoverSum.Name, CrossoverSum.Loosened(db))
}

// cancelDB is how far a sum has to fall for the ways to be said to cancel: sides
// that only sag at their corner fall 3 dB, or 6 dB in quadrature with LR's level
// (common practice, no source).
const cancelDB = 12

// turning is the advice to turn polarities, "" where the worst sum would be no
// better for it.
func turning(d *design.Design) string {
	if d.Turned.Ways == nil {
		return ""
	}
	worst := func(pairs []design.PairSum, all design.Extremes) float64 {
		w := 0.0
		for _, x := range pairs {
			db, _ := x.Worst()
			w = math.Max(w, db)
		}
		if len(pairs) > 1 && d.Chained {
			db, _ := all.Worst()
			w = math.Max(w, db)
		}
		return w
	}
	var now design.Extremes
	for _, s := range d.Sums {
		if s.Chosen {
			now = s.Extremes
		}
	}
	if after := worst(d.Turned.Pairs, d.Turned.All); after >= worst(d.Pairs, now) {
		return ""
	}
	return "turn the polarity of " + words.List(d.Turned.Ways)
}

// compensating is the advice to compensate phases, "" where no kind of it is
// within the limit.
func compensating(sums []design.CrossoverSum, now design.CrossoverSum, limit float64) string {
	for _, s := range sums {
		if db, _ := s.Worst(); s.Compensation != now.Compensation && db <= limit {
			return fmt.Sprintf("write phase-compensation: %s, which would leave %s", s.Compensation, words.Level(db, "dB"))
		}
	}
	return ""
}

package engine

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
)

// Sequence is a rule by which the positions of a chain follow one another. What the whole
// amounts to is the same in every order but for the roundings, of words and of samples: each
// order has scales of its own, and what comes behind filters the noise of what is before.
type Sequence struct {
	Name, Doc string
	// weighs is what orders are held by; nil of the one that moves one position only.
	weighs *weighing
}

// weighing says how good an order is, less being better.
type weighing struct {
	// expected is of an order that is not written, in decibels; +Inf where it may not be taken.
	expected func(a *arranging, o *laidOrder) float64
	// found is of a chain, in decibels.
	found func(a *arranging, c *Chain, order []int) float64
}

// Sequences is every rule, the usual one first.
var Sequences = []*Sequence{
	{Name: "one-moved", Doc: "The order of the filters, but for the section that filters the noise of the others most, which comes last."},
	{Name: "quietest", Doc: "The order with the least noise from 20 Hz to 20 kHz whose DC is below -60 dBFS or what the usual order has.", weighs: &weighing{expected: (*arranging).noiseDB, found: func(a *arranging, c *Chain, _ []int) float64 {
		noise, dc := c.worstNoise(a.rateHz, orderToHz, a.settings)
		return a.allowed(noise, dc)
	}}},
	{Name: "truest", Doc: "The order in which the roundings of the coefficients change the magnitude least.", weighs: &weighing{expected: (*arranging).errorDB, found: func(a *arranging, c *Chain, order []int) float64 {
		return a.errorDB(&laidOrder{order: order, words: c.byPosition()})
	}}},
}

// SequenceByName is the rule of a name, nil for none.
func SequenceByName(name string) *Sequence {
	i := slices.IndexFunc(Sequences, func(s *Sequence) bool { return s.Name == name })
	if i < 0 {
		return nil
	}
	return Sequences[i]
}

// How orders are looked for: up to exhaustive positions in all of them, beyond that from the
// best with one position moved last, by exchanges of two and moves of one, until none helps.
// The written best of those expected to be good decide, as words follow their own bounds; finest is the
// difference in decibels that is one, so that of equals the order nearest to the filters' is taken.
const (
	exhaustive = 6
	written    = 12
	finest     = 0.1
)

// sequenced is the chain in the order that a sequence weighs best, beginning with usual, the chain of the
// usual one; nil stands for none.
func (e *Engine) sequenced(s *Sequence, usual *Chain, slots []biquad.Slot[biquad.Digital], total, rateHz float64, settings int) *Chain {
	a := e.newArranging(slots, total, rateHz, settings)
	best, least := usual, math.Inf(1)
	if usual != nil {
		_, dc := usual.worstNoise(rateHz, orderToHz, settings)
		a.mostDC = math.Max(dc, biquad.FromDB(harmlessDC))
		least = s.weighs.found(a, usual, usual.order)
	}
	for _, sines := range []bool{false, true} {
		if sines && best != nil && !best.Sines { // what never clips is not given up for less noise
			break
		}
		a.begin(sines)
		for _, order := range a.ranked(s.weighs) {
			c := &Chain{Engine: *e, Sines: sines, order: order}
			if c.write(biquad.Arranged(slots, order), total, rateHz, settings) != nil {
				continue
			}
			better := s.weighs.found(a, c, order)
			if better < least-finest || !math.IsInf(better, 1) && (best == nil || best.Sines && !sines) {
				best, least = c, better
			}
		}
	}
	return best
}

// ranked are the orders that are expected to be best, the best first.
func (a *arranging) ranked(by *weighing) [][]int {
	type tried struct {
		order []int
		db    float64
	}
	var all []tried
	seen := map[string]float64{}
	weigh := func(order []int) float64 {
		key := keyOf(order)
		if db, ok := seen[key]; ok {
			return db
		}
		db := math.Inf(1)
		if o := a.laid(order); o != nil {
			db = math.Round(by.expected(a, o)/finest) * finest
		}
		if !math.IsInf(db, 1) {
			all = append(all, tried{slices.Clone(order), db})
		}
		seen[key] = db
		return db
	}
	n := len(a.slots)
	if n <= exhaustive {
		biquad.Orders(n, func(order []int) { weigh(order) })
	} else {
		best, least := biquad.InPlace(n), math.Inf(1)
		lower := func(order []int) bool {
			db := weigh(order)
			is := db < least
			if is {
				least = db
			}
			return is
		}
		for last := n - 1; last >= 0; last-- {
			if o := biquad.Moved(biquad.InPlace(n), last, n-1); lower(o) {
				best = o
			}
		}
		biquad.Improved(best, lower)
	}
	slices.SortStableFunc(all, func(x, y tried) int { return cmp.Compare(x.db, y.db) })
	var out [][]int
	for _, t := range all[:min(written, len(all))] {
		out = append(out, t.order)
	}
	return out
}

// keyOf is an order, or a set in ascending order, as a key.
func keyOf(order []int) string {
	key := make([]rune, len(order))
	for i, k := range order {
		key[i] = rune(k)
	}
	return string(key)
}

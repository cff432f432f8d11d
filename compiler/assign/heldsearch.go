package assign

import (
	"slices"

	"bandwright/compiler/parallel"
)

const (
	// heldBelow is what errors below a limit weigh against those above: less than a change
	// does.
	heldBelow = 1e-6
	// stalled is how many more parts in a row may change without a gain of gainedByParts
	// (dB) before no more are.
	stalled, gainedByParts = 3, 1e-3
	// nearlyShare of a limit is what one may be missed by for there to be tries from many
	// arrangements.
	nearlyShare = 0.2
	// shaken is from how many arrangements by chance, beside those with one stage put
	// back, a way is looked for to do with as many changes, or one less.
	shaken = 8
	// shakeSeed is where the numbers begin that they are drawn by.
	shakeSeed = 11
)

// Search looks for the pick with the fewest changes that is within the limits, at least
// so many, among all choices of the tables, the first of which stands; or else for one
// that misses them little. It lets ever more parts change until the limits are kept, or
// all at once, and then tries to do with one less from many arrangements.
func (h *Held) Search(least int) (pick []int, within bool) {
	lists := h.lists()
	start := make([]int, len(lists))
	for i, list := range lists {
		start[i] = list[0]
	}
	best := h.grow(start, lists, least)
	if !best.within {
		best = best.or(h.improved(start, lists, 0, true))
	}
	for best.within && best.changes > least && !h.useless() {
		fewer := h.around(lists, best, best.changes-1)
		if !fewer.within {
			break
		}
		best = fewer
	}
	if best.within && !h.useless() {
		best = h.improved(best.pick, lists, best.changes, false)
	}
	return best.pick, best.within
}

func (h *Held) useless() bool { return h.idle != nil && h.idle() }

// grown is an arrangement within so many changes.
type grown struct {
	pick    []int
	changes int
	within  bool
	cost    float64
}

// lists are the choices of each stage that may be.
func (h *Held) lists() [][]int {
	lists := h.p.lists()
	for i, t := range h.p.tables {
		if t.Gone && len(lists[i]) > 1 {
			lists[i] = lists[i][1:]
		}
	}
	return lists
}

// Reduced is what the pick becomes by exchanges of two stages among all choices.
func (h *Held) Reduced() (pick []int, within bool) {
	x := h.improved(h.pick, h.lists(), 0, false)
	return x.pick, x.within
}

// or is the better one of two, the first of equal ones.
func (g grown) or(x grown) grown {
	switch {
	case x.within != g.within:
		if x.within {
			return x
		}
	case x.within && x.changes != g.changes:
		if x.changes < g.changes {
			return x
		}
	case x.cost < g.cost-scoreStep:
		return x
	}
	return g
}

// improved is what a pick becomes by exchanges of two stages where at most so many parts
// change, 0 for any: until none helps, or the limits are kept.
func (h *Held) improved(pick []int, lists [][]int, most int, kept bool) grown {
	a := h.p.arrange(pick, lists, h.pointDB)
	a.idle, a.most, a.below = h.idle, most, heldBelow
	a.limit(h.limits)
	var enough func() bool
	if kept {
		enough = a.within
	}
	a.descend(mostRounds, enough)
	return grown{slices.Clone(a.pick), h.changes(a.pick), a.within(), a.cost}
}

func (h *Held) changes(pick []int) int {
	n := 0
	for s, k := range pick {
		n += h.p.tables[s].changes(k)
	}
	return n
}

// grow lets more and more parts change, until the limits are kept or more do not help.
func (h *Held) grow(start []int, lists [][]int, least int) grown {
	most := 0
	for _, t := range h.p.tables {
		most += slices.Max(append(slices.Clone(t.Changes), 0))
	}
	best := h.improved(start, lists, max(least, 1), true)
	now := best
	for n, idle := max(least, best.changes)+1, 0; !best.within && n <= most && idle < stalled && !h.useless(); n++ {
		now = h.improved(now.pick, lists, n, true)
		if !now.within && now.cost < nearlyShare*h.limits.PathDB {
			now = now.or(h.around(lists, now, n))
		}
		if idle++; now.within || now.cost < best.cost-gainedByParts {
			best, idle = now, 0
		}
	}
	return best
}

// around looks from many arrangements like one for one of at most so many changes that is
// within the limits: the first of them, or else the best.
func (h *Held) around(lists [][]int, from grown, most int) grown {
	var starts [][]int
	var moved []int
	for s, k := range from.pick {
		if k != lists[s][0] {
			moved = append(moved, s)
		}
	}
	if len(moved) == 0 {
		return from
	}
	back := func(stages ...int) {
		pick := slices.Clone(from.pick)
		for _, s := range stages {
			pick[s] = lists[s][0]
		}
		if !slices.ContainsFunc(starts, func(x []int) bool { return slices.Equal(x, pick) }) {
			starts = append(starts, pick)
		}
	}
	for _, s := range moved {
		back(s)
	}
	dice := random(shakeSeed)
	for range shaken {
		n := len(moved)
		back(moved[dice.below(n)], moved[dice.below(n)], moved[dice.below(n)])
	}
	out := make([]grown, len(starts))
	first := parallel.First(parallel.Workers(), len(starts), func(_, i int, idle func() bool) bool {
		ahead := *h
		ahead.idle = func() bool { return idle() || h.useless() }
		out[i] = ahead.improved(starts[i], lists, most, true)
		return out[i].within
	})
	if first < len(starts) {
		return out[first]
	}
	best := out[0]
	for _, x := range out {
		best = best.or(x)
	}
	return best
}

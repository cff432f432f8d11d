package assign

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// confines is a room where it confines anything.
type confines struct {
	Room
	at []int
}

func (r Room) confines() confines {
	c := confines{Room: r}
	for k := range r.LowDB {
		if !math.IsInf(r.LowDB[k], -1) || !math.IsInf(r.HighDB[k], 1) || !math.IsInf(r.LowRad[k], -1) || !math.IsInf(r.HighRad[k], 1) {
			c.at = append(c.at, k)
		}
	}
	return c
}

// holds reports whether errors lie within, and else where they do not.
func (c *confines) holds(e, more Errors) (k int, ok bool) {
	for _, k := range c.at {
		if db := e.DB[k] + more.DB[k]; db < c.LowDB[k] || db > c.HighDB[k] {
			return k, false
		}
	}
	for _, k := range c.at {
		if rad := e.Rad[k] + more.Rad[k]; rad < c.LowRad[k] || rad > c.HighRad[k] {
			return k, false
		}
	}
	return 0, true
}

// Pairs puts the cost of every pair of choices of two stages, from a list of each, that
// keeps the limits with all other stages as they stand.
func (h *Held) Pairs(t *Trial, stages [2]int, lists [2][]int, put func(pair [2]int, cost float64)) {
	i, j := stages[0], stages[1]
	if h.lost(i, j) {
		return
	}
	has := func(n, s int) bool { return h.p.paths[n].has[s] }
	first := h.holding(i, lists[0], h.room(func(n int) bool { return has(n, i) && !has(n, j) }, i))
	second := h.holding(j, lists[1], h.room(func(n int) bool { return has(n, j) && !has(n, i) }, j))
	both := h.room(func(n int) bool { return has(n, i) && has(n, j) }, i, j).confines()
	one, other := h.p.tables[i], h.p.tables[j]
	try := func(c, d int) {
		cost := t.Cost(Instead{i, one.Choices[c], one.Points[c]}, Instead{j, other.Choices[d], other.Points[d]})
		if cost < noLimit {
			put([2]int{c, d}, cost)
		}
	}
	if len(both.at) == 0 {
		for _, c := range first {
			for _, d := range second {
				try(c, d)
			}
		}
		return
	}
	key := both.widest(other.Choices, second)
	slices.SortStableFunc(second, func(a, b int) int { return cmp.Compare(other.Choices[a].DB[key], other.Choices[b].DB[key]) })
	column := make([]float64, len(second))
	for n, d := range second {
		column[n] = other.Choices[d].DB[key]
	}
	bind := both.at[0]
	for _, c := range first {
		e := one.Choices[c]
		low, high := both.LowDB[key]-e.DB[key], both.HighDB[key]-e.DB[key]
		for n := sort.SearchFloat64s(column, low); n < len(column) && column[n] <= high; n++ {
			more := other.Choices[second[n]]
			if db := e.DB[bind] + more.DB[bind]; db < both.LowDB[bind] || db > both.HighDB[bind] {
				continue
			}
			k, ok := both.holds(e, more)
			if !ok {
				bind = k
				continue
			}
			try(c, second[n])
		}
	}
}

// holding are those of a list of choices of a stage that lie within a room.
func (h *Held) holding(stage int, list []int, r Room) []int {
	c := r.confines()
	return slices.DeleteFunc(slices.Clone(list), func(i int) bool {
		_, ok := c.holds(h.p.tables[stage].Choices[i], h.p.zero)
		return !ok
	})
}

// widestOf is at how many frequencies the widest spread is looked for.
const widestOf = 16

// widest is the frequency, of the first ones, at which choices differ most, in half of
// their number, where dB are confined: there a pair is told from another soonest.
func (c *confines) widest(choices []Errors, list []int) int {
	best, most := c.at[0], -1.0
	column := make([]float64, len(list))
	for _, k := range c.at[:min(len(c.at), widestOf)] {
		for n, i := range list {
			column[n] = choices[i].DB[k]
		}
		slices.Sort(column)
		if len(column) == 0 {
			break
		}
		room := c.HighDB[k] - c.LowDB[k]
		if spread := (column[len(column)*3/4] - column[len(column)/4]) / room; spread > most {
			best, most = k, spread
		}
	}
	return best
}

// Ones puts the cost of every choice of a stage, from a list, that keeps the limits with
// all other stages as they stand.
func (h *Held) Ones(t *Trial, stage int, list []int, put func(choice int, cost float64)) {
	r, ok := h.RoomOf(stage)
	if !ok {
		return
	}
	for _, c := range h.holding(stage, list, r) {
		table := h.p.tables[stage]
		if cost := t.Cost(Instead{stage, table.Choices[c], table.Points[c]}); cost < noLimit {
			put(c, cost)
		}
	}
}

package parts

import (
	"math"
	"slices"

	"bandwright/compiler/parallel"
)

const (
	// diceOfValues is where the numbers begin that swaps are drawn by. Any would do;
	// from one to the next the fewest values found differ by up to four.
	diceOfValues = 3
	// swaps is how many swaps in a row may miss the limits on the way to one value
	// less, the best of at most swapsTried each; swapped values stay for tabu more.
	swaps, swapsTried, tabu = 6, 100, 6
	// gained (dB) is what a swap has to gain to be taken before all are tried.
	gained = 1e-3
	// nearby (dB) is the miss that is worth a thorough arrangement.
	nearby = 0.01
	// agreements is how often an arrangement is mended that the real op-amp does not
	// agree with.
	agreements = 4
	// mostWork bounds a pass: palettes tried times stages, four times what a four-way
	// board needs.
	mostWork = 1.3e5
	// listOfValues is how many choices of each stage that a palette allows are looked
	// at, and rounds over the pairs of stages there are for them; with settings a
	// board has many paths, and only stages of those that miss their limits move.
	listOfValues, listThorough        = 24, 200
	patience, patienceLazy, unhurried = 1, 3, rounds2opt
)

// Palettes that fail sooner are worse than those that fail later.
const (
	missesCore = 20.0 // dB, added where the longest path of a way misses its limit
	missesPath = 10.0 // where another one does
)

// shrinking is a palette under way to fewer values.
type shrinking struct {
	c               *consolidation
	limit, sumLimit float64
	pick            []int
	palette         palette
	real            *arrangement // of the pick
	workers         []*arrangement
	// core are the paths looked at first, one of each way, and inCore their stages.
	core, inCore []bool
	dice         chance
	work         int
	err          error
}

// search returns the pick with the fewest values that it finds within the limits.
func (c *consolidation) search(limit, sumLimit float64) ([]int, error) {
	s := c.shrinking(limit, sumLimit)
	for {
		for s.dropOne() {
		}
		if !s.press() {
			return s.pick, s.err
		}
	}
}

// shrinking starts a search from the plan.
func (c *consolidation) shrinking(limit, sumLimit float64) *shrinking {
	s := &shrinking{c: c, limit: limit, sumLimit: sumLimit, pick: c.start, palette: c.used(c.start),
		core: c.b.longest(), inCore: make([]bool, len(c.pools)), dice: diceOfValues}
	for n, core := range s.core {
		for _, i := range c.b.paths[n].stages {
			s.inCore[i] = s.inCore[i] || core
		}
	}
	lists := make([][]int, len(c.pools))
	for i := range lists {
		lists[i] = []int{c.start[i]}
	}
	first := c.b.arrange(c.start, lists)
	first.perPoint = perOctave2
	first.limited(nearShare*limit, nearShare*sumLimit)
	first.lazy = slices.Contains(s.core, false)
	s.workers = []*arrangement{first}
	for len(s.workers) < parallel.Workers() {
		s.workers = append(s.workers, first.clone())
	}
	s.take(c.start)
	return s
}

// longest marks the path with the most stages of each way: the others have most
// of their stages in common with it.
func (b *board) longest() []bool {
	at := make([]int, b.ways)
	for w := range at {
		at[w] = -1
	}
	for n, t := range b.paths {
		if k := at[t.way]; k < 0 || len(t.stages) > len(b.paths[k].stages) {
			at[t.way] = n
		}
	}
	out := make([]bool, len(b.paths))
	for _, n := range at {
		if n >= 0 {
			out[n] = true
		}
	}
	return out
}

// used is the palette of a pick.
func (c *consolidation) used(pick []int) palette {
	p := newPalette(len(c.values))
	for i, k := range pick {
		for w, bits := range c.masks[i][k] {
			p[w] |= bits
		}
	}
	return p
}

// byUse lists the values in use, those of the fewest stages first.
func (s *shrinking) byUse() []int {
	uses := make([]int, len(s.c.values))
	for i, k := range s.pick {
		for _, v := range s.c.masks[i][k].list() {
			uses[v]++
		}
	}
	out := s.palette.list()
	slices.SortStableFunc(out, func(x, y int) int { return uses[x] - uses[y] })
	return out
}

// first is the first of n changes that do, and n where none does.
func (s *shrinking) first(n int, does func(a *arrangement, i int) bool) int {
	i := parallel.First(n, func(worker, i int, idle func() bool) bool {
		a := s.workers[worker]
		a.idle = idle
		defer func() { a.idle = nil }()
		return does(a, i)
	})
	s.work += min(i+1, n) * len(s.pick)
	return i
}

// take takes a pick where the real op-amp agrees, and reports whether it does.
func (s *shrinking) take(pick []int) bool {
	if _, excess := s.agree(pick); excess > 0 {
		s.stay()
		return false
	}
	return true
}

// stay makes the tables exact for the pick again.
func (s *shrinking) stay() {
	if s.real != nil {
		s.c.rebase(s.pick, s.real)
	}
}

// agree makes the tables exact for a pick, arranges again where that shows it to
// miss the limits, and takes what keeps them. It returns the last pick and by how
// much that misses.
func (s *shrinking) agree(pick []int) ([]int, float64) {
	for range agreements {
		real, err := s.c.real(pick, s.limit, s.sumLimit)
		if err != nil {
			s.err = err
			return pick, math.Inf(1)
		}
		s.c.rebase(pick, real)
		if real.within() {
			s.pick, s.palette, s.real = pick, s.c.used(pick), real
			return pick, 0
		}
		p := s.c.used(pick)
		var excess float64
		if pick, excess = s.arranged(s.workers[0], pick, p, false); excess > 0 {
			pick, excess = s.arranged(s.workers[0], pick, p, true)
		}
		if excess > 0 {
			return pick, excess
		}
	}
	return pick, scoreStep
}

// arranged is a pick within a palette, from one to start with, and by how much
// (dB) it misses the limits as the tables have it: infinitely where a stage cannot
// be built. It depends on nothing else.
func (s *shrinking) arranged(a *arrangement, start []int, p palette, thorough bool) ([]int, float64) {
	most, rounds := listOfValues, patience
	switch {
	case thorough:
		most, rounds = listThorough, unhurried
	case a.lazy:
		rounds = patienceLazy
	}
	a.hasty = a.lazy && !thorough
	lists := make([][]int, len(start))
	pick := slices.Clone(start)
	for i, masks := range s.c.masks {
		for k, m := range masks {
			if p.allows(m) {
				if lists[i] = append(lists[i], k); len(lists[i]) == most {
					break
				}
			}
		}
		if len(lists[i]) == 0 {
			return nil, math.Inf(1)
		}
		if !p.allows(masks[pick[i]]) {
			pick[i] = lists[i][0]
		}
	}
	was := a.pick
	a.pick, a.lists = pick, lists
	// The longest paths first: most palettes fail there. Then the others, with the
	// stages that only they have before all, and sums, which take longest, at last.
	copy(a.active, s.core)
	clear(a.activeSum)
	a.moved(was)
	clear(a.seen)
	a.descend(rounds, a.pathsWithin)
	if !a.pathsWithin() {
		return slices.Clone(a.pick), missesCore + a.excess()
	}
	if a.lazy {
		for n := range a.active {
			a.active[n] = true
		}
		a.lists = make([][]int, len(lists))
		for i, list := range lists {
			if a.lists[i] = list; s.inCore[i] {
				a.lists[i] = a.pick[i : i+1 : i+1]
			}
		}
		a.refresh()
		clear(a.seen)
		a.descend(rounds, a.pathsWithin)
		a.lists = lists
		clear(a.seen)
		if !a.pathsWithin() {
			a.descend(rounds, a.pathsWithin)
		}
		if !a.pathsWithin() {
			return slices.Clone(a.pick), missesPath + a.excess()
		}
	}
	for n := range a.activeSum {
		a.activeSum[n] = true
	}
	a.refresh()
	clear(a.seen)
	a.descend(rounds, a.within)
	return slices.Clone(a.pick), a.excess()
}

// excess is by how much active paths and sums miss their limits (dB), in sum over
// ways and pairs.
func (a *arrangement) excess() float64 {
	clear(a.wi)
	clear(a.wj)
	for n, t := range a.b.paths {
		if a.active[n] {
			a.wi[t.way] = math.Max(a.wi[t.way], a.pathErr[n]-a.pathLimit)
		}
	}
	for n, m := range a.b.sums {
		if a.activeSum[n] {
			a.wj[m.pair] = math.Max(a.wj[m.pair], a.sumErr[n]-a.sumLimit)
		}
	}
	total := 0.0
	for _, e := range a.wi {
		total += e
	}
	for _, e := range a.wj {
		total += e
	}
	return total
}

// pathsWithin reports whether the errors of all active paths keep their limit, and
// within whether those of the sums do too.
func (a *arrangement) pathsWithin() bool {
	for n := range a.b.paths {
		if a.active[n] && a.pathErr[n] > a.pathLimit {
			return false
		}
	}
	return true
}

func (a *arrangement) within() bool {
	if !a.pathsWithin() {
		return false
	}
	for n := range a.b.sums {
		if a.sumErr[n] > a.sumLimit {
			return false
		}
	}
	return true
}

// dropOne takes one value out.
func (s *shrinking) dropOne() bool {
	order := s.byUse()
	found := make([][]int, len(order))
	for from := 0; from < len(order) && s.work <= mostWork; from++ {
		from += s.first(len(order)-from, func(a *arrangement, i int) bool {
			pick, excess := s.arranged(a, s.pick, s.palette.without(order[from+i]), false)
			found[from+i] = pick
			return excess <= 0
		})
		if from < len(order) && s.take(found[from]) {
			return true
		}
	}
	return false
}

// tried is a palette, and what can be made of it.
type tried struct {
	palette palette
	pick    []int
	excess  float64
}

// try is the first of n palettes that misses the limits by less than enough, or
// else the one that misses them least.
func (s *shrinking) try(n int, from []int, of func(i int) palette, enough float64) tried {
	all := make([]tried, n)
	if i := s.first(n, func(a *arrangement, i int) bool {
		x := &all[i]
		x.palette = of(i)
		x.pick, x.excess = s.arranged(a, from, x.palette, false)
		if x.excess > 0 && math.Mod(x.excess, missesPath) < nearby {
			x.pick, x.excess = s.arranged(a, x.pick, x.palette, true)
		}
		return x.excess < enough
	}); i < n {
		return all[i]
	}
	best := tried{excess: math.Inf(1)}
	for _, x := range all {
		if x.excess < best.excess-scoreStep {
			best = x
		}
	}
	return best
}

// press takes out the value that is missed least, whatever that costs, and swaps
// values by chance until the limits are kept again.
func (s *shrinking) press() bool {
	order := s.palette.list()
	now := s.try(len(order), s.pick, func(i int) palette { return s.palette.without(order[i]) }, math.Inf(-1))
	kept := make([]int, len(s.c.values)) // until which swap a value stays in or out
	for n := 0; n < swaps && s.work <= mostWork && !math.IsInf(now.excess, 1); n++ {
		if now.pick, now.excess = s.agree(now.pick); now.excess <= 0 {
			return true
		}
		was := now.palette
		changes := s.changes(was, func(v int) bool { return kept[v] > n })
		now = s.try(min(len(changes), swapsTried), now.pick, func(i int) palette {
			p := was.without(changes[i][0])
			p.add(changes[i][1])
			return p
		}, now.excess-gained)
		if now.palette == nil {
			break
		}
		for v := range kept {
			if was.has(v) != now.palette.has(v) {
				kept[v] = n + tabu
			}
		}
	}
	s.stay()
	return false
}

// changes are the swaps of a value of a palette for another one in random order,
// but for those that stay in or out.
func (s *shrinking) changes(p palette, stays func(v int) bool) [][2]int {
	var out [][2]int
	for _, v := range p.list() {
		for x := range s.c.values {
			if !p.has(x) && !stays(v) && !stays(x) {
				out = append(out, [2]int{v, x})
			}
		}
	}
	for i := range out {
		k := i + s.dice.below(len(out)-i)
		out[i], out[k] = out[k], out[i]
	}
	return out
}

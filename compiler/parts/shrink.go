package parts

import (
	"math"
	"slices"

	"bandwright/compiler/parallel"
)

// shrinking is a palette under way to fewer values.
type shrinking struct {
	c       *consolidation
	pick    []int
	palette palette
	workers []*arrangement
	// core are the paths looked at first, one of each way, and inCore their stages.
	core, inCore []bool
	spent        int // attempts
}

// search returns the pick with the fewest values that it finds within the limits.
func (c *consolidation) search(limit, sumLimit float64) []int {
	s := c.shrinking(limit, sumLimit)
	best, size := slices.Clone(s.pick), s.palette.size()
	note := func() {
		if n := s.palette.size(); n < size {
			best, size = slices.Clone(s.pick), n
		}
	}
	var dice chance
	for range wanders {
		for s.dropOne() || s.twoForOne() {
		}
		note()
		if !s.swap(&dice) {
			break
		}
	}
	note()
	return best
}

// shrinking starts a search from the plan.
func (c *consolidation) shrinking(limit, sumLimit float64) *shrinking {
	s := &shrinking{c: c, pick: slices.Clone(c.start), palette: c.used(c.start), core: c.b.longest(), inCore: make([]bool, len(c.pools))}
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
	first.limited(limit, sumLimit)
	first.lazy = slices.Contains(s.core, false)
	s.workers = []*arrangement{first}
	for len(s.workers) < parallel.Workers() {
		s.workers = append(s.workers, first.clone())
	}
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

// first takes the first of n changes that finds an arrangement, and reports
// whether one does.
func (s *shrinking) first(n int, change func(i int, try func(palette) []int) []int) bool {
	found := make([][]int, n)
	i := parallel.First(n, func(worker, i int) bool {
		found[i] = change(i, func(p palette) []int { return s.arranged(s.workers[worker], p) })
		return found[i] != nil
	})
	s.spent += i
	if i == n {
		return false
	}
	s.pick = found[i]
	s.palette = s.c.used(s.pick)
	return true
}

// arranged is a pick within a palette and the limits, nil where none is found. It
// depends on nothing but the present pick and the palette.
func (s *shrinking) arranged(a *arrangement, p palette) []int {
	lists := make([][]int, len(s.pick))
	pick := slices.Clone(s.pick)
	for i, masks := range s.c.masks {
		for k, m := range masks {
			if p.allows(m) {
				if lists[i] = append(lists[i], k); len(lists[i]) == listOfValues {
					break
				}
			}
		}
		if len(lists[i]) == 0 {
			return nil
		}
		if !p.allows(masks[pick[i]]) {
			pick[i] = lists[i][0]
		}
	}
	patience := patience
	if a.lazy {
		patience = patienceLazy
	}
	was := a.pick
	a.pick, a.lists = pick, lists
	// The longest paths first: most palettes fail there. Then the others, with the
	// stages that only they have before all, and sums, which take longest, at last.
	copy(a.active, s.core)
	clear(a.activeSum)
	a.moved(was)
	clear(a.seen)
	a.descend(patience, a.pathsWithin)
	if !a.pathsWithin() {
		return nil
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
		a.descend(patience, a.pathsWithin)
		a.lists = lists
		clear(a.seen)
		if !a.pathsWithin() {
			a.descend(patience, a.pathsWithin)
		}
		if !a.pathsWithin() {
			return nil
		}
	}
	for n := range a.activeSum {
		a.activeSum[n] = true
	}
	a.refresh()
	clear(a.seen)
	a.descend(patience, a.within)
	if !a.within() {
		return nil
	}
	return slices.Clone(a.pick)
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

// without is a palette without some values.
func (p palette) without(values ...int) palette {
	q := slices.Clone(p)
	for _, v := range values {
		q.drop(v)
	}
	return q
}

// with is a palette with one more value.
func (p palette) with(v int) palette {
	q := slices.Clone(p)
	q.add(v)
	return q
}

func (s *shrinking) dropOne() bool {
	order := s.byUse()
	return s.first(len(order), func(i int, try func(palette) []int) []int {
		return try(s.palette.without(order[i]))
	})
}

// twoForOne takes two values out and one in.
func (s *shrinking) twoForOne() bool {
	order := s.byUse()
	var pairs [][2]int
	for i, v := range order {
		for _, u := range order[:i] {
			pairs = append(pairs, [2]int{v, u})
		}
	}
	return s.first(len(pairs), func(i int, try func(palette) []int) []int {
		v, u := pairs[i][0], pairs[i][1]
		p := s.palette.without(v, u)
		for _, x := range s.missing(p, v, u) {
			if pick := try(p.with(x)); pick != nil {
				return pick
			}
		}
		return nil
	})
}

// missing lists values that let every stage be built again that a palette leaves
// without choice, the most exact first; without v and u.
func (s *shrinking) missing(p palette, v, u int) []int {
	var cost []float64 // of each value
	for i, masks := range s.c.masks {
		some := false
		for _, m := range masks {
			if some = p.allows(m); some {
				break
			}
		}
		if some {
			continue
		}
		here := make([]float64, len(s.c.values))
		for x := range here {
			here[x] = math.Inf(1)
		}
		for k, m := range masks {
			if x := p.missing(m); x >= 0 && x != v && x != u {
				here[x] = math.Min(here[x], s.c.pools[i][k].ErrorDB)
			}
		}
		if cost == nil {
			cost = here
			continue
		}
		for x := range cost {
			cost[x] += here[x]
		}
	}
	var out []int
	for x, e := range cost {
		if !math.IsInf(e, 1) {
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(x, y int) int {
		switch {
		case rounded(cost[x]) < rounded(cost[y]):
			return -1
		case rounded(cost[x]) > rounded(cost[y]):
			return 1
		}
		return 0
	})
	return out[:min(introduced, len(out))]
}

// swap takes a value out and another one in, by chance.
func (s *shrinking) swap(dice *chance) bool {
	const attempts = 30
	type change struct{ out, in int }
	changes := make([]change, attempts)
	for n := range changes {
		changes[n] = change{dice.below(1 << 16), dice.below(1 << 16)}
	}
	list := s.palette.list()
	return s.first(attempts, func(i int, try func(palette) []int) []int {
		v := list[changes[i].out%len(list)]
		p := s.palette.without(v)
		in := s.missing(p, v, v)
		if len(in) == 0 {
			return nil
		}
		return try(p.with(in[changes[i].in%len(in)]))
	})
}

package parts

import (
	"errors"
	"math"
	"slices"

	"bandwright/compiler/circuit"
)

const (
	// poolOfValues is how many sets of values a stage brings to the search for few
	// distinct ones.
	poolOfValues = 1500
	// listOfValues is how many of them that a palette allows are looked at.
	listOfValues = 24
	// introduced is how many new values are tried for two old ones.
	introduced = 4
	// patience is how many rounds over the pairs of stages an arrangement gets, and
	// patienceLazy where only stages move that something missed its limit by.
	patience, patienceLazy = 1, 3
	// wanders is how often a value is swapped for another one where nothing else
	// helps, to look from there.
	wanders = 10
	// perOctave2 (dB) is what a squared octave away from comfortable values is worth
	// among sets that keep the limits.
	perOctave2 = 2e-5
	// tightenings is how often the search is repeated with a narrower limit where
	// the real op-amp's response misses the limit that the estimate keeps.
	tightenings = 3
	// settled is how many choices of each stage are measured with the real op-amp
	// at the end, and settledShare what is kept from the limits for rounding.
	settled, settledShare = 8, 1e-6
)

// Consolidate looks for a plan with as few distinct resistor and capacitor values
// as it can, with the topologies of a plan and no path worse than limitDB and no
// sum worse than sumLimitDB (dB, > 0). Where the plan itself keeps no such limits,
// it is returned as it is, and kept is false.
//
// A palette of values loses one, or two for a new one, or swaps one, as long as
// pairs of stages can be arranged within the limits from what is left.
func (b *Bench) Consolidate(p Problem, from Plan, limitDB, sumLimitDB float64) (plan Plan, kept bool, err error) {
	if len(from.Choices) != len(p.Stages) {
		return from, false, errors.New("the plan has not as many choices as the problem has stages")
	}
	if !(limitDB > 0) || !(sumLimitDB > 0) {
		return from, false, errors.New("a limit has to be above 0 dB")
	}
	if path, sum := from.Worst(); path > limitDB || sum > sumLimitDB {
		return from, false, nil
	}
	c, err := b.consolidation(p, from)
	if err != nil {
		return from, false, err
	}
	limit, sumLimit := limitDB, sumLimitDB
	for range tightenings {
		plan, err = c.settle(b, p, c.search(limit, sumLimit), limitDB, sumLimitDB)
		if err != nil {
			return from, false, err
		}
		path, sum := plan.Worst()
		if path <= limitDB && sum <= sumLimitDB {
			return plan, true, nil
		}
		limit = math.Max(limit-1.5*math.Max(0, path-limitDB), limitDB/4)
		sumLimit = math.Max(sumLimit-1.5*math.Max(0, sum-sumLimitDB), sumLimitDB/4)
	}
	return from, true, nil
}

// settle arranges the stages once more with the responses of the real op-amp and
// with what else the values of a pick allow, the quietest that keeps the limits.
func (c *consolidation) settle(b *Bench, p Problem, pick []int, limitDB, sumLimitDB float64) (Plan, error) {
	palette := c.used(pick)
	stages := make([]Stage, len(pick))
	lists := make([][]int, len(pick))
	for i, k := range pick {
		list := []Choice{c.pools[i][k]}
		for n, m := range c.masks[i] {
			if n != k && palette.allows(m) && len(list) < settled {
				list = append(list, c.pools[i][n])
			}
		}
		stages[i].Candidates = list
		for n := range list {
			lists[i] = append(lists[i], n)
		}
	}
	if err := each(len(stages), func(i int) error {
		list := stages[i].Candidates
		return b.measure(list, func(n int, x Choice) { list[n] = x })
	}); err != nil {
		return Plan{}, err
	}
	p.Stages = stages
	board, err := p.tabulate(func(i int, hz []float64) (table, error) {
		return b.realTable(stages[i].Candidates, hz, nil)
	})
	if err != nil {
		return Plan{}, err
	}
	a := board.arrange(make([]int, len(stages)), lists)
	a.limited(limitDB*(1-settledShare), sumLimitDB*(1-settledShare))
	a.refresh()
	a.descend(rounds2opt, nil)
	return a.plan(stages), nil
}

// limited sets limits, and looks at all paths and sums.
func (a *arrangement) limited(limit, sumLimit float64) {
	a.pathLimit, a.sumLimit = math.Max(limit, scoreStep), math.Max(sumLimit, scoreStep)
	for n := range a.active {
		a.active[n] = true
	}
	for n := range a.activeSum {
		a.activeSum[n] = true
	}
	a.refresh()
}

// consolidation is the search for few values.
type consolidation struct {
	b      *board
	start  []int
	pools  [][]Choice
	masks  [][]palette // of each choice
	values []float64   // resistors as they are, capacitors negative
}

// consolidation prepares pools and tables.
func (b *Bench) consolidation(p Problem, from Plan) (*consolidation, error) {
	b = b.ready()
	c := &consolidation{pools: make([][]Choice, len(p.Stages)), start: make([]int, len(p.Stages))}
	// Sections that occur twice share a pool.
	owner := make([]int, len(p.Stages))
	for i, x := range from.Choices {
		owner[i] = slices.IndexFunc(from.Choices, func(y Choice) bool { return x.Topology == y.Topology && x.Section == y.Section })
	}
	if err := each(len(p.Stages), func(i int) error {
		if owner[i] == i {
			c.pools[i], _ = b.pool(from.Choices[i].Topology, from.Choices[i].Section, poolOfValues, perErrorOfValues)
		}
		return nil
	}); err != nil {
		return nil, err
	}
	for i, x := range from.Choices {
		if owner[i] != i {
			c.pools[i] = slices.Clone(c.pools[owner[i]])
		}
		c.pools[i] = slices.DeleteFunc(c.pools[i], func(y Choice) bool { return !sameLevel(x.Level, y.Level) })
		c.start[i] = slices.IndexFunc(c.pools[i], func(y Choice) bool { return slices.Equal(x.Values, y.Values) })
		if c.start[i] < 0 {
			c.start[i] = len(c.pools[i])
			c.pools[i] = append(c.pools[i], x)
		}
	}
	c.index()
	// The stages of the problem as they are wanted: the tables need no others.
	named := p
	named.Stages = make([]Stage, len(p.Stages))
	for i, x := range from.Choices {
		named.Stages[i].Candidates = []Choice{x}
	}
	var err error
	c.b, err = named.tabulate(func(i int, hz []float64) (table, error) {
		return b.nearTable(from.Choices[i], c.pools[i], hz)
	})
	return c, err
}

// nearTable is the table of choices with what the real op-amp does to one of them
// added to all: that changes little from one set of values to the next.
func (b *Bench) nearTable(like Choice, all []Choice, hz []float64) (table, error) {
	real, err := b.realTable([]Choice{like}, hz, nil)
	if err != nil {
		return table{}, err
	}
	t := newTable(len(all), len(hz))
	elements := like.Topology.Parts()
	w, want := make([]float64, len(hz)), make([]complex128, len(hz))
	r := like.Topology.Closed(like.Values)
	for k, f := range hz {
		w[k] = 2 * math.Pi * f
		want[k] = complex(like.Level, 0) * like.Section.At(w[k])
		db, rad := logarithmOf(r.At(w[k]), want[k])
		real.db[0][k] -= db
		real.rad[0][k] -= rad
	}
	for i, c := range all {
		r := c.Topology.Closed(c.Values)
		for k := range hz {
			db, rad := logarithmOf(r.At(w[k]), want[k])
			t.db[i][k], t.rad[i][k] = db+real.db[0][k], rad+real.rad[0][k]
		}
		t.points[i] = comfort(elements, c.Values)
	}
	return t, nil
}

func logarithmOf(h, want complex128) (db, rad float64) {
	if h == 0 || want == 0 {
		return 0, 0
	}
	return logarithm(h / want)
}

// index numbers the values of all pools.
func (c *consolidation) index() {
	key := func(e circuit.Element, v float64) float64 {
		if isCapacitor(e) {
			return -v
		}
		return v
	}
	for _, pool := range c.pools {
		elements := pool[0].Topology.Parts()
		for _, x := range pool {
			for i, v := range x.Values {
				if v != 0 {
					c.values = append(c.values, key(elements[i], v))
				}
			}
		}
		slices.Sort(c.values)
		c.values = slices.Compact(c.values)
	}
	for _, pool := range c.pools {
		elements := pool[0].Topology.Parts()
		masks := make([]palette, len(pool))
		for n, x := range pool {
			masks[n] = newPalette(len(c.values))
			for i, v := range x.Values {
				if v != 0 {
					at, _ := slices.BinarySearch(c.values, key(elements[i], v))
					masks[n].add(at)
				}
			}
		}
		c.masks = append(c.masks, masks)
	}
}

// search returns the pick with the fewest values that it finds within the limits.
func (c *consolidation) search(limit, sumLimit float64) []int {
	s := &shrinking{c: c}
	lists := make([][]int, len(c.pools))
	for i := range lists {
		lists[i] = []int{c.start[i]}
	}
	s.a = c.b.arrange(c.start, lists)
	s.a.perPoint = perOctave2
	s.core = c.b.longest()
	s.a.limited(limit, sumLimit)
	s.a.lazy = slices.Contains(s.core, false)
	s.inCore = make([]bool, len(c.pools))
	for n, core := range s.core {
		for _, i := range c.b.paths[n].stages {
			s.inCore[i] = s.inCore[i] || core
		}
	}
	s.pick = slices.Clone(c.start)
	s.palette = s.c.used(s.pick)
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

// shrinking is a palette and an arrangement within it.
type shrinking struct {
	c       *consolidation
	a       *arrangement
	pick    []int
	palette palette
	// core are the paths looked at first, one of each way, and inCore their stages.
	core, inCore []bool
}

// rounds is the patience with a palette. With settings a board has many paths, and
// only stages of those that miss their limits are moved.
func (s *shrinking) rounds() int {
	if s.a.lazy {
		return patienceLazy
	}
	return patience
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

// accept tries to arrange the stages within a palette and the limits.
func (s *shrinking) accept(p palette) bool {
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
			return false
		}
		if !p.allows(masks[pick[i]]) {
			pick[i] = lists[i][0]
		}
	}
	a := s.a
	was := a.pick
	a.pick, a.lists = pick, lists
	// The longest paths first: most palettes fail there. Then the others, with the
	// stages that only they have before all, and sums, which take longest, at last.
	copy(a.active, s.core)
	clear(a.activeSum)
	a.moved(was)
	clear(a.seen)
	a.descend(s.rounds(), a.pathsWithin)
	if !a.pathsWithin() {
		return false
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
		a.descend(s.rounds(), a.pathsWithin)
		a.lists = lists
		clear(a.seen)
		if !a.pathsWithin() {
			a.descend(s.rounds(), a.pathsWithin)
		}
		if !a.pathsWithin() {
			return false
		}
	}
	for n := range a.activeSum {
		a.activeSum[n] = true
	}
	a.refresh()
	clear(a.seen)
	a.descend(s.rounds(), a.within)
	if !a.within() {
		return false
	}
	s.pick = slices.Clone(a.pick)
	s.palette = s.c.used(s.pick)
	return true
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

func (s *shrinking) dropOne() bool {
	for _, v := range s.byUse() {
		p := slices.Clone(s.palette)
		p.drop(v)
		if s.accept(p) {
			return true
		}
	}
	return false
}

// twoForOne takes two values out and one in.
func (s *shrinking) twoForOne() bool {
	order := s.byUse()
	for i, v := range order {
		for _, u := range order[:i] {
			p := slices.Clone(s.palette)
			p.drop(v)
			p.drop(u)
			for _, x := range s.missing(p, v, u) {
				q := slices.Clone(p)
				q.add(x)
				if s.accept(q) {
					return true
				}
			}
		}
	}
	return false
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
	for range attempts {
		list := s.palette.list()
		v := list[dice.below(len(list))]
		p := slices.Clone(s.palette)
		p.drop(v)
		in := s.missing(p, v, v)
		if len(in) == 0 {
			continue
		}
		p.add(in[dice.below(len(in))])
		if s.accept(p) {
			return true
		}
	}
	return false
}

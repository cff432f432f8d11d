package parts

import (
	"errors"
	"math"
	"math/bits"
	"slices"

	"bandwright/compiler/circuit"
)

const (
	// poolOfValues is how many sets of values a stage brings to the search for few
	// distinct ones.
	poolOfValues = 1000
	// listOfValues is how many of them that a palette allows are looked at.
	listOfValues = 10
	// introduced is how many new values are tried for two old ones.
	introduced = 4
	// patience is how many rounds over the pairs of stages an arrangement gets.
	patience = 1
	// wanders is how often a value is swapped for another one where nothing else
	// helps, to look from there.
	wanders = 4
	// perOctave2 (dB) is what a squared octave away from comfortable values is worth
	// among sets that keep the limits.
	perOctave2 = 2e-5
	// tightenings is how often the search is repeated with a narrower limit where
	// the real op-amp's response misses the limit that the estimate keeps.
	tightenings = 3
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
		pick := c.search(limit, sumLimit)
		stages := make([]Stage, len(pick))
		for i, k := range pick {
			stages[i].Candidates = []Choice{c.pools[i][k]}
			if err := b.measure(stages[i].Candidates, func(_ int, x Choice) { stages[i].Candidates[0] = x }); err != nil {
				return from, false, err
			}
		}
		real := p
		real.Stages = stages
		plan, err = b.Each(real)
		if err != nil {
			return from, false, err
		}
		path, sum := plan.Worst()
		if path <= limitDB && sum <= sumLimitDB {
			return plan, true, nil
		}
		limit -= math.Max(0, path-limitDB) * 1.5
		sumLimit -= math.Max(0, sum-sumLimitDB) * 1.5
	}
	return from, true, nil
}

// consolidation is the search for few values.
type consolidation struct {
	b      *board
	start  []int
	pools  [][]Choice
	masks  [][]palette // of each choice
	values []float64   // resistors as they are, capacitors negative
}

// palette is a set of values, by index.
type palette []uint64

func newPalette(n int) palette   { return make(palette, (n+63)/64) }
func (p palette) add(i int)      { p[i/64] |= 1 << (i % 64) }
func (p palette) drop(i int)     { p[i/64] &^= 1 << (i % 64) }
func (p palette) has(i int) bool { return p[i/64]>>(i%64)&1 == 1 }
func (p palette) allows(q palette) bool {
	for i, w := range q {
		if w&^p[i] != 0 {
			return false
		}
	}
	return true
}

func (p palette) size() int {
	n := 0
	for _, w := range p {
		n += bits.OnesCount64(w)
	}
	return n
}

// missing is the one value that p lacks of q, or -1 where it lacks none or more.
func (p palette) missing(q palette) int {
	at := -1
	for i, w := range q {
		if m := w &^ p[i]; m != 0 {
			if at >= 0 || m&(m-1) != 0 {
				return -1
			}
			at = i*64 + bits.TrailingZeros64(m)
		}
	}
	return at
}

// list lists the values of a palette.
func (p palette) list() []int {
	var out []int
	for i := range len(p) * 64 {
		if p.has(i) {
			out = append(out, i)
		}
	}
	return out
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
	real, err := b.realTable([]Choice{like}, hz)
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
	s.a.pathLimit, s.a.sumLimit, s.a.perPoint = math.Max(limit, scoreStep), math.Max(sumLimit, scoreStep), perOctave2
	for n := range s.a.active {
		s.a.active[n] = true
	}
	for n := range s.a.activeSum {
		s.a.activeSum[n] = true
	}
	s.pick = slices.Clone(c.start)
	s.palette = s.used(s.pick)
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
}

// used is the palette of a pick.
func (s *shrinking) used(pick []int) palette {
	p := newPalette(len(s.c.values))
	for i, k := range pick {
		for w, bits := range s.c.masks[i][k] {
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
	a.moved(was)
	clear(a.seen)
	a.descend(patience, a.within)
	if !a.within() {
		return false
	}
	s.pick = slices.Clone(a.pick)
	s.palette = s.used(s.pick)
	return true
}

// within reports whether all errors keep the limits.
func (a *arrangement) within() bool {
	for n := range a.b.paths {
		if a.pathErr[n] > a.pathLimit {
			return false
		}
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

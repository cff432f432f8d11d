package parts

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"bandwright/compiler/circuit"
	"bandwright/compiler/parallel"
)

const (
	// A stage brings so many sets of values to the search for few distinct ones:
	// poolOfValues of the stock, and poolOfOwn of those values alone that the
	// board has to begin with.
	poolOfValues, poolOfOwn = 500, 1000
	// mostSets is how many all stages may bring: they take 5 KB each.
	mostSets = 6e4
	// perOctave2 (dB) is what a squared octave away from comfortable values is worth
	// among sets that keep the limits.
	perOctave2 = 2e-5
	// nearShare of the limits is for what is estimated: what the real op-amp does to
	// values is known for those of the last pick only.
	nearShare = 0.985
	// swingShare is how much further op-amps inside of a stage may swing, 2 dB.
	swingShare = 1.25
	// settled is how many choices of each stage are measured with the real op-amp
	// at the end, and settledShare what is kept from the limits for rounding.
	settled, settledShare = 8, 1e-6
	// passes is how often the search begins anew, as long as it finds fewer.
	passes = 3
)

// Consolidate looks for a plan with as few distinct resistor and capacitor values
// as it can, with the topologies of a plan and no path worse than limitDB and no
// sum worse than sumLimitDB (dB, > 0). Where the plan itself keeps no such limits,
// it is returned as it is, and kept is false.
//
// A palette of values loses one after the other as long as the stages can be
// arranged within the limits from what is left; then one is taken out all the same,
// and others are swapped until the limits are kept again.
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
	// A palette found has its own most exact sets, more than those that were looked
	// among to find it.
	plan = from
	for range passes {
		c, err := b.consolidation(p, plan, from)
		if err != nil {
			return from, false, err
		}
		pick, err := c.search(limitDB, sumLimitDB)
		if err != nil {
			return from, false, err
		}
		was := count(plan)
		if plan, err = c.settle(b, p, pick, limitDB, sumLimitDB); err != nil {
			return from, false, err
		}
		if count(plan) >= was {
			break
		}
	}
	return plan, true, nil
}

// count is how many different values a plan has.
func count(p Plan) int {
	r, c := p.Distinct()
	return r + c
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
	a.perPoint = dbPerPoint * belowLimit // no point is worth a limit
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
	bench  *Bench
	known  Known
	start  []int
	pools  [][]Choice
	masks  [][]palette // of each choice
	values []float64   // resistors as they are, capacitors negative
}

// consolidation prepares pools and tables for a search from a plan, with op-amps that
// swing no further than swingShare allows from those of another one.
func (b *Bench) consolidation(p Problem, from, swings Plan) (*consolidation, error) {
	b = b.ready()
	c := &consolidation{bench: b, pools: make([][]Choice, len(p.Stages)), start: make([]int, len(p.Stages))}
	// The values of the plan stay: the search begins with them.
	used := func(v float64) bool {
		return slices.ContainsFunc(from.Choices, func(x Choice) bool { return slices.Contains(x.Values, v) })
	}
	thin, own := *b, *b
	thin.Stock, own.Stock = b.Stock.coarser(used), b.Stock.only(used)
	// Sections that occur twice share a pool.
	owner := make([]int, len(p.Stages))
	for i, x := range from.Choices {
		owner[i] = slices.IndexFunc(from.Choices, func(y Choice) bool { return x.Topology == y.Topology && x.Section == y.Section })
	}
	share := math.Min(1, mostSets/float64((poolOfValues+poolOfOwn)*len(p.Stages)))
	if err := each(len(p.Stages), func(i int) error {
		if owner[i] == i {
			c.pools[i], _ = thin.pool(from.Choices[i].Topology, from.Choices[i].Section, int(share*poolOfValues), perErrorOfValues)
			more, _ := own.pool(from.Choices[i].Topology, from.Choices[i].Section, int(share*poolOfOwn), perErrorOfValues)
			c.pools[i] = merged(c.pools[i], more)
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
	if err := each(len(p.Stages), func(i int) (err error) {
		c.pools[i], err = b.within(c.pools[i], swings.Choices[i])
		c.start[i] = slices.IndexFunc(c.pools[i], func(y Choice) bool { return slices.Equal(from.Choices[i].Values, y.Values) })
		return err
	}); err != nil {
		return nil, err
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

// merged are the choices of two lists, each once, those with the smallest error first.
func merged(all, more []Choice) []Choice {
	out := slices.Concat(all, more)
	slices.SortStableFunc(out, func(x, y Choice) int {
		if x.ErrorDB != y.ErrorDB {
			return cmp.Compare(x.ErrorDB, y.ErrorDB)
		}
		return slices.Compare(x.Values, y.Values)
	})
	return slices.CompactFunc(out, func(x, y Choice) bool { return slices.Equal(x.Values, y.Values) })
}

// within are the choices whose op-amps swing no further than those of one of them do,
// or than their input: few values shall not cost headroom.
func (b *Bench) within(all []Choice, like Choice) ([]Choice, error) {
	if like.Topology.OpAmps() < 2 {
		return all, nil
	}
	hz := []float64{b.Band.FromHz, b.Band.ToHz}
	if w, _ := like.Section.Natural(); w > 0 {
		for _, x := range [...]float64{0.25, 0.5, 0.7, 0.85, 1, 1.2, 1.4, 2, 4} {
			hz = append(hz, x*w/(2*math.Pi))
		}
	}
	r := newRig(like.Topology, b.Means.OpAmp, slices.Min(hz))
	peak := func(c Choice) (float64, error) {
		if err := r.set(c.Values); err != nil {
			return 0, err
		}
		top := 0.0
		for _, f := range hz {
			if _, _, err := r.at(f); err != nil {
				return 0, err
			}
			top = math.Max(top, r.swing())
		}
		return top, nil
	}
	most, err := peak(like)
	if err != nil {
		return nil, err
	}
	most = math.Max(most, 1) * swingShare
	var out []Choice
	for _, c := range all {
		top, err := peak(c)
		if err != nil {
			return nil, err
		}
		if top <= most {
			out = append(out, c)
		}
	}
	return out, nil
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

// real is a pick with the responses of the real op-amp.
func (c *consolidation) real(pick []int, limit, sumLimit float64) (*arrangement, error) {
	b := *c.b
	b.stages = make([]table, len(pick))
	lists := make([][]int, len(pick))
	if err := each(len(pick), func(i int) (err error) {
		lists[i] = []int{0}
		b.stages[i], err = c.bench.realTable(c.pools[i][pick[i]:pick[i]+1], b.hz, &c.known)
		return err
	}); err != nil {
		return nil, err
	}
	a := b.arrange(make([]int, len(pick)), lists)
	a.limited(limit, sumLimit)
	return a, nil
}

// rebase makes the table exact for a pick, with what the real op-amp does to its
// choices added to all others.
func (c *consolidation) rebase(pick []int, real *arrangement) {
	parallel.Each(len(pick), func(i int) {
		t, one := &c.b.stages[i], &real.b.stages[i]
		db, rad := slices.Clone(one.db[0]), slices.Clone(one.rad[0])
		subtract(db, t.db[pick[i]])
		subtract(rad, t.rad[pick[i]])
		if !slices.ContainsFunc(db, func(x float64) bool { return x != 0 }) {
			return
		}
		for n := range t.db {
			plus(t.db[n], t.db[n], db, true)
			plus(t.rad[n], t.rad[n], rad, true)
		}
		for k, column := range t.column {
			for n := range column {
				column[n] += db[k]
			}
		}
	})
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

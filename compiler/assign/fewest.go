package assign

import (
	"cmp"
	"math"
	"slices"

	"bandwright/compiler/parallel"
)

// Few different values are looked for by simulated annealing (Kirkpatrick, Gelatt,
// Vecchi, Science 220, 1983) of the pick itself: each different value costs one, and so
// does a share of what limits are missed by. What makes it work are three things.
// Errors add up along paths, and those of sums nearly do, so that a move is looked at
// in the time of a few hundred additions. Stages of one kind in series, such as the two
// of a fourth-order low-pass, change together, in pairs of choices whose errors cancel:
// either by itself would miss the limits. And only choices are drawn that have at most
// one value that is not in use.

const (
	// chains begin with seeds from firstSeed on, and do so many moves for each stage. Any
	// seed would do; from one to the next the fewest values found differ by up to two.
	chains, firstSeed, movesOfStage = 4, 5, 11000
	// The temperature, in values, falls from hot to cold in cooled equal ratios. After
	// each of them what may be drawn is listed anew.
	hot, cold, cooled = 0.3, 0.03, 60
	// Limits missed by as much as they allow cost so many values, at first and at last.
	missedFirst, missedLast = 5.0, 10.0
	// another is the share of the cost of a value's first use that its next one costs,
	// and so on: values of few uses are easier to do without. From mostUses on one more
	// costs nothing.
	another, mostUses = 0.3, 32
	// Looked is how many frequencies a search looks at, the first ones.
	Looked = 50
	// nearShare of the limits is for what tables estimate, what makes sums linear, and
	// frequencies between those that are looked at.
	nearShare = 0.985
	// cancelling is the share of a path's limit within which the errors of a pair of
	// choices add up, and mostPairs how many of them two stages have at most.
	cancelling, mostPairs = 1.5, 60000
	// Every other move is one of a pair.
	singles = 2
	// rounding is by how much limits may seem to be missed.
	rounding = 1e-6
)

// Few is what Fewest begins with and keeps to. Limits are above 0 dB.
type Few struct {
	Pick   []int // within the limits
	Limits Limits
	// Begin are picks that chains begin with by turns, Pick where there are none: such as what an
	// earlier search ended with.
	Begin [][]int
	// Kin are the same number for stages whose errors look alike, so that they cancel
	// each other.
	Kin []int
	// Follows, where not nil, is for each stage the one whose choice it has: itself, or one
	// with as many choices, each of which is both stages' in one. The values are those of
	// the stage that is followed.
	Follows []int
	// InUse are values that count whatever is picked, so that using them costs nothing.
	InUse []int
	// Costs, where not nil, are the shares that a choice of a stage uses up of what there
	// is of other things, the same number of them for all choices: in sum at most 1 each.
	// It is asked by several goroutines.
	Costs func(stage, choice int) []float64
}

// Fewest returns picks with as few different values as it finds within the limits, as
// the tables have the errors at some of the frequencies and to the first order: the
// one with the fewest first, and f.Pick at last.
func Fewest(p Problem, f Few) ([][]int, error) {
	b, err := p.prepare()
	if err != nil {
		return nil, err
	}
	g := b.ground(f)
	begin := f.Begin
	if len(begin) == 0 {
		begin = [][]int{f.Pick}
	}
	found := make([]*chain, chains)
	parallel.Each(chains, func(i int) {
		found[i] = newChain(g, begin[i%len(begin)], random(firstSeed+i))
		found[i].run(p.Idle)
	})
	found = slices.DeleteFunc(found, func(c *chain) bool { return c.best == nil })
	slices.SortStableFunc(found, func(x, y *chain) int { return cmp.Compare(x.fewest, y.fewest) })
	var out [][]int
	for _, c := range found {
		out = append(out, c.best)
	}
	return append(out, f.Pick), nil
}

// chain is one search.
type chain struct {
	g         *ground
	pick      []int
	x         []float64 // of each row, 1 at its limit
	cost      []float64 // of each budget, 1 at its limit
	missed    float64   // in sum, by how much rows and budgets are above 1
	uses      []int     // of each value
	dice      random
	fresh     [][]int32 // of each choice: its value that is not in use, or none or many
	drawn     [][]int32 // choices of each stage that may be drawn
	drawnPair [][]int32 // and pairs of choices
	best      []int     // of fewest values, nil for none
	fewest    int
	moves     [2]change // scratch: what a move changes
	moved     []float64 // scratch: rows after it
	spent     []float64 // scratch: budgets after it
}

// What fresh has where a choice has no new value, and where it has more than one.
const none, many = -1, -2

func newChain(g *ground, pick []int, seed random) *chain {
	c := &chain{g: g, pick: slices.Clone(pick), uses: make([]int, g.numbers), dice: seed, fewest: math.MaxInt,
		fresh: make([][]int32, len(pick)), drawn: make([][]int32, len(pick)), drawnPair: make([][]int32, len(g.pairs)),
		moved: make([]float64, g.rows), spent: make([]float64, g.budgets)}
	for _, v := range g.few.InUse {
		c.uses[v]++
	}
	for _, s := range g.leaders {
		c.fresh[s] = make([]int32, len(g.values[s]))
		for _, v := range g.values[s][pick[s]] {
			c.uses[v]++
		}
	}
	c.refresh()
	c.keep()
	return c
}

// refresh works out rows and budgets from the pick, so that rounding does not add up.
func (c *chain) refresh() {
	c.x, c.cost, c.missed = slices.Clone(c.g.fixed), make([]float64, c.g.budgets), 0
	for _, s := range c.g.leaders {
		k := c.pick[s]
		db, rad := c.g.errors(s, k)
		for _, t := range c.g.touched[s] {
			c.x[t.row] += float64(t.perDB*float64(db[t.at])) + float64(t.perRad*float64(rad[t.at]))
		}
		for i, share := range c.g.costs(s, k) {
			c.cost[i] += share
		}
	}
	for _, x := range c.x {
		c.missed += above(x)
	}
	for _, x := range c.cost {
		c.missed += above(x)
	}
}

// above is by how much a row or a budget misses its limit.
func above(x float64) float64 { return math.Max(0, math.Abs(x)-1) }

// distinct is how many values are in use.
func (c *chain) distinct() int {
	n := 0
	for _, uses := range c.uses {
		if uses > 0 {
			n++
		}
	}
	return n
}

// keep takes note of a pick within limits that has the fewest values so far.
func (c *chain) keep() {
	if c.missed > rounding {
		return
	}
	if n := c.distinct(); n < c.fewest {
		c.best, c.fewest = c.g.follow(c.pick), n
	}
}

// run does all moves.
func (c *chain) run(idle func() bool) {
	temperature, missing := hot, missedFirst
	cools, stiffens := math.Exp2(math.Log2(cold/hot)/cooled), math.Exp2(math.Log2(missedLast/missedFirst)/cooled)
	for range cooled {
		if idle != nil && idle() {
			return
		}
		c.refresh()
		c.list()
		for range movesOfStage * len(c.g.leaders) / cooled {
			if len(c.g.pairs) > 0 && c.dice.below(singles) > 0 {
				n := c.dice.below(len(c.g.pairs))
				if p, list := &c.g.pairs[n], c.drawnPair[n]; len(list) > 0 {
					x := p.choices[list[c.dice.below(len(list))]]
					c.move(p.i, int(x[0]), p.j, int(x[1]), temperature, missing)
				}
				continue
			}
			s := c.g.leaders[c.dice.below(len(c.g.leaders))]
			if list := c.drawn[s]; len(list) > 1 {
				c.move(s, int(list[c.dice.below(len(list))]), -1, 0, temperature, missing)
			}
		}
		temperature, missing = temperature*cools, missing*stiffens
	}
}

// list lists what may be drawn: choices, and pairs of choices, with at most one value
// that is not in use.
func (c *chain) list() {
	for s, values := range c.g.values {
		list := c.drawn[s][:0]
		for k, of := range values {
			fresh := int32(none)
			for _, v := range of {
				if c.uses[v] > 0 {
					continue
				}
				if fresh != none {
					fresh = many
					break
				}
				fresh = v
			}
			if c.fresh[s][k] = fresh; fresh != many {
				list = append(list, int32(k))
			}
		}
		c.drawn[s] = list
	}
	for n, p := range c.g.pairs {
		list := c.drawnPair[n][:0]
		first, second := c.fresh[p.i], c.fresh[p.j]
		for k, x := range p.choices {
			if a, b := first[x[0]], second[x[1]]; a != many && b != many && (a == b || a == none || b == none) {
				list = append(list, int32(k))
			}
		}
		c.drawnPair[n] = list
	}
}

// exchangeUses takes one choice's values out of use, puts another one's into it, and
// returns what that costs.
func (c *chain) exchangeUses(s, from, to int) float64 {
	cost := 0.0
	for _, v := range c.g.values[s][from] {
		c.uses[v]--
		cost -= useCosts[min(c.uses[v], mostUses)]
	}
	for _, v := range c.g.values[s][to] {
		cost += useCosts[min(c.uses[v], mostUses)]
		c.uses[v]++
	}
	return cost
}

// useCosts is what one more use of a value costs, by how many it has.
var useCosts = func() (out [mostUses + 1]float64) {
	for cost, n := 1.0, 0; n < mostUses; n++ {
		out[n], cost = cost, cost*another
	}
	return out
}()

// move draws whether a stage, and another one unless that is -1, change their choices.
func (c *chain) move(i, ci, j, cj int, temperature, missing float64) {
	oi, oj := c.pick[i], 0
	if j >= 0 {
		oj = c.pick[j]
	}
	if oi == ci && oj == cj {
		return
	}
	cost := c.exchangeUses(i, oi, ci)
	if j >= 0 {
		cost += c.exchangeUses(j, oj, cj)
	}
	const bits = 1 << 30
	may := -temperature * math.Log((float64(c.dice.below(bits))+0.5)/bits) // how much the cost may rise
	if may -= cost; may < -missing*c.missed || !c.affords(i, ci, j, cj, may/missing) {
		c.exchangeUses(i, ci, oi)
		if j >= 0 {
			c.exchangeUses(j, cj, oj)
		}
		return
	}
	c.pick[i] = ci
	if j >= 0 {
		c.pick[j] = cj
	}
	c.keep()
}

// affords takes over the errors and costs of a move if limits are missed by at most so
// much more with it.
func (c *chain) affords(i, ci, j, cj int, most float64) bool {
	c.from(0, i, ci)
	n := 1
	if j >= 0 {
		c.from(1, j, cj)
		n = 2
	}
	touched := c.g.touched[i] // those of both: pairs are in the same paths
	is := 0.0
	enough := most + c.missed // what is missed in touched rows and budgets is a part of that
	for k := range touched {
		t := &touched[k]
		x := c.x[t.row]
		for _, m := range c.moves[:n] {
			x += float64(t.perDB*(float64(m.db[t.at])-float64(m.wasDB[t.at]))) + float64(t.perRad*(float64(m.rad[t.at])-float64(m.wasRad[t.at])))
		}
		if c.moved[k] = x; x > 1 || x < -1 {
			if is += math.Abs(x) - 1; is > enough {
				return false
			}
		}
	}
	copy(c.spent, c.cost)
	c.spend(i, ci)
	if j >= 0 {
		c.spend(j, cj)
	}
	for _, x := range c.spent {
		is += above(x)
	}
	was := 0.0
	for k := range touched {
		was += above(c.x[touched[k].row])
	}
	for _, x := range c.cost {
		was += above(x)
	}
	if is > most+was {
		return false
	}
	for k := range touched {
		c.x[touched[k].row] = c.moved[k]
	}
	copy(c.cost, c.spent)
	c.missed = math.Max(0, c.missed+is-was)
	return true
}

// change is from the errors of one choice to those of another.
type change struct{ db, rad, wasDB, wasRad []float32 }

// from enters what another choice of a stage changes in errors.
func (c *chain) from(n, s, to int) {
	m := &c.moves[n]
	m.db, m.rad = c.g.errors(s, to)
	m.wasDB, m.wasRad = c.g.errors(s, c.pick[s])
}

// spend enters what another choice of a stage changes in budgets.
func (c *chain) spend(s, to int) {
	was := c.g.costs(s, c.pick[s])
	for i, share := range c.g.costs(s, to) {
		c.spent[i] += share - was[i]
	}
}

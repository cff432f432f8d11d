package assign

import (
	"math"
	"slices"
)

// exchange is the change of the choices of two stages under way: of all pairs of
// their choices the best is taken (2-opt, or pair exchange). The next pair uses its
// slices again.
type exchange struct {
	i, j  int   // j is -1 where one stage moves by itself
	paths []int // paths that either stage is in: watched ones, and those of sums
	sums  []int // watched sums of such paths
	// fixed is the cost of the groups that stay as they are. Of those that do not quite,
	// which are hit, stays is the largest error of what does.
	fixed         float64
	hit           []bool
	stays         []float64
	turns         []bool    // by path: whether its phase is looked at
	rest          []Errors  // by path: without the two stages
	row           []Errors  // by path: with a choice of stage i
	alone         []float64 // by path: its error where stage j is not in it
	first, second []Errors  // by path: row and choice of stage j, as sums take them
	left          []int     // choices of stage j that keep the active constraints
	glance        glance
	spare         int   // how many parts the two may change
	paid          []int // choices of stage j that may be where stage i leaves paidFor
	paidFor       int
	best          float64 // cost
	bestI, bestJ  int
}

func newExchange(p *prepared) exchange {
	n := len(p.paths)
	x := exchange{hit: make([]bool, p.ways+p.pairs), stays: make([]float64, p.ways+p.pairs),
		turns: make([]bool, n), alone: make([]float64, n), first: make([]Errors, n), second: make([]Errors, n)}
	for range n {
		x.rest, x.row = append(x.rest, newErrors(p.frequencies)), append(x.row, newErrors(p.frequencies))
	}
	return x
}

// exchange picks the best choices of two stages, or of one where j is -1, and reports
// whether they changed.
func (a *arrangement) exchange(i, j int) bool {
	x := &a.x
	x.i, x.j = i, j
	if !a.touch() {
		return false
	}
	a.fix()
	a.group()
	a.takeOut()
	x.spare, x.paidFor = a.spare(i, j), -1
	// What is no better by scoreStep is passed over, and what is worse than that by
	// half of it is not looked at further, so that rounding decides nothing.
	x.best, x.bestI, x.bestJ = a.cost-scoreStep, -1, -1
	for _, c := range a.lists[i] {
		a.tryFirst(c)
	}
	if x.bestI < 0 {
		return false
	}
	was := a.pick
	a.pick = slices.Clone(was)
	if a.pick[i] = x.bestI; j >= 0 {
		a.pick[j] = x.bestJ
	}
	if slices.Equal(was, a.pick) {
		return false
	}
	a.moved(was)
	return true
}

// touch finds the paths and sums that the stages are in, and reports whether there
// are any, and anything has changed since the stages were tried last.
func (a *arrangement) touch() bool {
	x := &a.x
	x.paths, x.sums = x.paths[:0], x.sums[:0]
	needed := make([]bool, len(a.p.paths))
	for n, m := range a.p.sums {
		if judged := len(a.p.paths) + n; a.watched[judged] && a.p.involves(judged, x.i, x.j) {
			x.sums = append(x.sums, n)
			for _, p := range m.Paths {
				needed[p] = true
			}
		}
	}
	version := 1
	for n := range a.p.paths {
		in := a.p.involves(n, x.i, x.j)
		if in && (a.watched[n] || needed[n]) {
			x.paths = append(x.paths, n)
		}
		if in || needed[n] {
			version += a.version[n]
		}
	}
	stages := [2]int{x.i, x.j}
	if len(x.paths) == 0 || a.tried[stages] == version {
		return false
	}
	a.tried[stages] = version
	return true
}

// fix works out the cost of what stays as it is.
func (a *arrangement) fix() {
	x := &a.x
	x.fixed = 0
	for s, k := range a.pick {
		if s != x.i && s != x.j {
			x.fixed += a.pointDB * a.p.tables[s].Points[k]
		}
	}
	clear(x.hit)
	clear(x.stays)
	for n, g := range a.p.group {
		switch {
		case !a.watched[n]:
		case a.p.involves(n, x.i, x.j):
			x.hit[g] = true
		default:
			x.stays[g] = math.Max(x.stays[g], a.err[n])
		}
	}
	for g, e := range x.stays {
		if !x.hit[g] {
			x.fixed += a.price(e, a.limitOf(g))
		}
	}
}

// takeOut takes the errors of the two stages out of those of their paths.
func (a *arrangement) takeOut() {
	x := &a.x
	copy(x.first, a.rows)
	copy(x.second, a.zeros)
	for _, n := range x.paths {
		t := &a.p.paths[n]
		x.turns[n] = len(x.sums) > 0 || len(t.turns) > 0
		copy(x.rest[n].DB, a.rows[n].DB)
		copy(x.rest[n].Rad, a.rows[n].Rad)
		for _, s := range [...]int{x.i, x.j} {
			if t.passes(s) {
				out := a.p.tables[s].Choices[a.pick[s]]
				subtract(x.rest[n].DB, out.DB)
				if x.turns[n] {
					subtract(x.rest[n].Rad, out.Rad)
				}
			}
		}
		x.first[n] = x.row[n]
	}
}

// tryFirst looks at a choice of stage i with all of stage j.
func (a *arrangement) tryFirst(c int) {
	x, table := &a.x, &a.p.tables[a.x.i]
	cost := x.fixed + a.pointDB*table.Points[c]
	spare := x.spare - table.changes(c)
	if cost >= x.best || spare < 0 {
		return
	}
	limit := a.afford(x.best+scoreStep/2-cost, a.limits.PathDB)
	if !a.putFirst(table.Choices[c], limit, spare) {
		return
	}
	if x.j >= 0 {
		x.left = a.promising(x.left, cost)
	}
	for _, second := range x.left {
		a.trySecond(c, second, cost)
	}
}

// putFirst puts the errors of a choice of stage i on top of what stays, and reports
// whether any choice of stage j, of at most so many changes, may keep all paths within a
// limit with it.
func (a *arrangement) putFirst(own Errors, limit float64, spare int) bool {
	x := &a.x
	x.left = append(x.left[:0], a.affordable(spare)...)
	for _, n := range x.paths {
		t := &a.p.paths[n]
		if !a.watched[n] || len(t.at) == 0 {
			continue
		}
		db := own.DB
		if !t.has[x.i] {
			db = a.p.zero.DB
		}
		if x.left = a.feasible(x.left, n, x.j, x.rest[n].DB, db, limit); len(x.left) == 0 {
			return false
		}
	}
	for _, n := range x.paths {
		t := &a.p.paths[n]
		plus(x.row[n].DB, x.rest[n].DB, own.DB, t.has[x.i])
		if x.turns[n] {
			plus(x.row[n].Rad, x.rest[n].Rad, own.Rad, t.has[x.i])
		}
		if a.watched[n] && !t.passes(x.j) {
			if x.alone[n] = a.pathError(n, x.row[n], a.p.zero, limit); x.alone[n] > limit {
				return false
			}
		}
	}
	return true
}

// affordable are the choices of stage j, -1 where there is none, of at most so many changes.
func (a *arrangement) affordable(spare int) []int {
	x := &a.x
	if x.paidFor == spare {
		return x.paid
	}
	x.paidFor = spare
	if x.paid = append(x.paid[:0], -1); x.j >= 0 {
		x.paid = x.paid[:0]
		table := &a.p.tables[x.j]
		for _, c := range a.lists[x.j] {
			if table.changes(c) <= spare {
				x.paid = append(x.paid, c)
			}
		}
	}
	return x.paid
}

// trySecond looks at a choice of stage j, or at none (-1), with the present one of
// stage i. cost is that of all else but the ways and pairs that are hit.
func (a *arrangement) trySecond(first, second int, cost float64) {
	x := &a.x
	own := a.p.zero
	if second >= 0 {
		table := &a.p.tables[x.j]
		own, cost = table.Choices[second], cost+a.pointDB*table.Points[second]
	}
	if a.atLeast(own, cost) >= x.best+scoreStep/2 {
		return
	}
	copy(a.worst, x.stays)
	limit := a.afford(x.best+scoreStep/2-cost, a.limits.PathDB)
	for _, n := range x.paths {
		if !a.watched[n] {
			continue
		}
		t, e := &a.p.paths[n], x.alone[n]
		if t.passes(x.j) {
			e = a.pathError(n, x.row[n], own, limit)
		}
		if e > limit {
			return
		}
		if e > a.worst[t.Way] {
			a.worst[t.Way] = e
		}
	}
	cost = a.withHit(cost, 0, a.p.ways)
	if cost >= x.best {
		return
	}
	if cost = a.withSums(cost); cost < x.best {
		x.best, x.bestI, x.bestJ = cost-scoreStep, first, second
	}
}

// withHit is cost with that of some groups, as far as they are hit.
func (a *arrangement) withHit(cost float64, from, to int) float64 {
	for g := from; g < to; g++ {
		if a.x.hit[g] {
			cost += a.price(a.worst[g], a.limitOf(g))
		}
	}
	return cost
}

// atLeast is cost with what those of the groups that are hit add at least with the errors of
// a choice of stage j, by a glance at where they were the worst last: mostly too much.
func (a *arrangement) atLeast(own Errors, cost float64) float64 {
	x := &a.x
	clear(a.least)
	for _, n := range x.paths {
		t := &a.p.paths[n]
		if x.second[n] = a.p.zero; t.passes(x.j) {
			x.second[n] = own
		}
		if !a.watched[n] {
			continue
		}
		e := x.alone[n]
		if t.passes(x.j) {
			e = a.glanceAt(n, x.row[n], own)
		}
		if e > a.least[t.Way] {
			a.least[t.Way] = e
		}
	}
	for _, n := range x.sums {
		g := a.p.ways + a.p.sums[n].Pair
		if r := a.glance(n, x.first, x.second); r > a.least[g] {
			a.least[g] = r
		}
	}
	for g := range a.least {
		if !x.hit[g] {
			continue
		}
		if g >= a.p.ways && a.least[g] > 0 {
			a.least[g] = 10 * math.Log10(a.least[g])
		}
		a.least[g] = math.Max(a.least[g], x.stays[g])
		cost += a.price(a.least[g], a.limitOf(g))
	}
	return cost
}

// withSums is cost with that of the pairs that are hit, with the errors of a choice of
// stage j; infinite where it is clear that it is not the best.
func (a *arrangement) withSums(cost float64) float64 {
	x := &a.x
	least := cost
	for g := a.p.ways; g < len(a.worst); g++ {
		if x.hit[g] {
			least += a.price(a.least[g], a.limits.SumDB)
		}
	}
	if least >= x.best+scoreStep/2 {
		return noLimit
	}
	for _, n := range x.sums {
		g := a.p.ways + a.p.sums[n].Pair
		others := least - a.price(a.least[g], a.limits.SumDB)
		e := a.sumError(n, x.first, x.second, a.afford(x.best+scoreStep/2-others, a.limits.SumDB))
		if math.IsInf(e, 1) {
			return noLimit
		}
		a.worst[g] = math.Max(a.worst[g], e)
	}
	return a.withHit(cost, a.p.ways, len(a.worst))
}

// plus puts a, and b where it applies, into dst.
func plus(dst, a, b []float64, applies bool) {
	if !applies {
		copy(dst, a)
		return
	}
	for k := range dst {
		dst[k] = a[k] + b[k]
	}
}

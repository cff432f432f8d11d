package assign

import (
	"math"
	"slices"
)

// arrangement is a pick of one choice a stage, with the errors that it makes. Not
// every path and sum is looked at while it is being improved: only those that are
// watched, as they were the worst of their way or pair at some time.
type arrangement struct {
	b *prepared
	// lazy: errors of paths and sums that are not watched are not kept up, and only
	// stages of those that miss their limits are moved.
	lazy bool
	// idle, where not nil, says that what is being improved is of no use any more.
	idle func() bool
	// hasty: no further round where one gained little.
	hasty bool
	pick  []int
	lists [][]int  // choices that each stage may pick
	rows  []Errors // of each path: those of its stages together
	// watched paths and sums, and their errors.
	watched, watchedSum []bool
	pathErr, sumErr     []float64
	cost                float64
	limits              Limits // errors below them cost little; 0 for none
	pointDB             float64
	// binding are the active constraints of each path and sum; see exceeds.
	binding    [][remembered]int
	bindingSum []int
	version    []int          // of each path: how often it changed
	tried      map[[2]int]int // of each pair of stages: the versions it was tried at
	x          exchange
	way, pair  []float64 // scratch
	zeros      []Errors  // by path
}

const (
	// sumWeight is how much an error of a pair's sum weighs against one of a way:
	// an error that both sides share in opposite directions cancels, one in the
	// same direction is heard.
	sumWeight = 1.0
	// belowLimit is what errors below a limit weigh against those above.
	belowLimit = 1e-3
)

// arrange starts an arrangement from a pick.
func (b *prepared) arrange(pick []int, lists [][]int, pointDB float64) *arrangement {
	paths, sums := len(b.paths), len(b.sums)
	a := &arrangement{b: b, pick: slices.Clone(pick), lists: lists, pointDB: pointDB,
		watched: make([]bool, paths), watchedSum: make([]bool, sums),
		pathErr: make([]float64, paths), sumErr: make([]float64, sums),
		binding: make([][remembered]int, paths), bindingSum: make([]int, sums),
		version: make([]int, paths), tried: map[[2]int]int{},
		way: make([]float64, b.ways), pair: make([]float64, b.pairs)}
	for n, t := range b.paths {
		a.rows, a.zeros = append(a.rows, newErrors(b.frequencies)), append(a.zeros, b.zero)
		if len(t.at) > 0 {
			for i := range a.binding[n] {
				a.binding[n][i] = t.at[i%len(t.at)]
			}
		}
	}
	for n, m := range b.sums {
		if len(m.near) > 0 {
			a.bindingSum[n] = m.near[0]
		}
	}
	a.x = newExchange(b)
	a.refresh()
	a.watchWorst()
	return a
}

// limit sets limits, and watches all paths and sums.
func (a *arrangement) limit(l Limits) {
	a.limits = Limits{math.Max(l.PathDB, scoreStep), math.Max(l.SumDB, scoreStep)}
	a.watchAll(true, true)
	a.refresh()
}

// watchAll watches all paths, all sums, or both.
func (a *arrangement) watchAll(paths, sums bool) {
	for n := range a.watched {
		a.watched[n] = a.watched[n] || paths
	}
	for n := range a.watchedSum {
		a.watchedSum[n] = a.watchedSum[n] || sums
	}
}

// refresh computes the errors of the present pick from the tables.
func (a *arrangement) refresh() {
	for n, t := range a.b.paths {
		if a.lazy && !a.watched[n] {
			continue
		}
		row := a.rows[n]
		clear(row.DB)
		clear(row.Rad)
		for _, s := range t.Stages {
			row.add(a.b.tables[s].Choices[a.pick[s]])
		}
		a.pathErr[n] = a.pathError(n, row, a.b.zero, noLimit)
	}
	for n := range a.b.sums {
		if !a.lazy || a.watchedSum[n] {
			a.sumErr[n] = a.sumError(n, a.rows, a.zeros, noLimit)
		}
	}
	a.cost = a.total()
}

// watchWorst takes up the worst path of each way and the worst sum of each pair,
// and reports whether any was new.
func (a *arrangement) watchWorst() bool {
	fresh := false
	worst := func(groups int, group func(n int) int, err []float64, watched []bool) {
		at := slices.Repeat([]int{-1}, groups)
		for n, e := range err {
			if g := group(n); at[g] < 0 || e > err[at[g]]+scoreStep {
				at[g] = n
			}
		}
		for _, n := range at {
			if n >= 0 && !watched[n] {
				watched[n], fresh = true, true
			}
		}
	}
	worst(a.b.ways, func(n int) int { return a.b.paths[n].Way }, a.pathErr, a.watched)
	worst(a.b.pairs, func(n int) int { return a.b.sums[n].Pair }, a.sumErr, a.watchedSum)
	a.cost = a.total()
	return fresh
}

// price is what an error costs under a limit, and afford the error that a price
// pays for.
func price(db, limit float64) float64 {
	if limit == 0 {
		return db
	}
	return belowLimit*db + math.Max(0, db-limit)
}

func afford(cost, limit float64) float64 {
	switch {
	case limit == 0:
		return cost
	case cost <= belowLimit*limit:
		return cost / belowLimit
	}
	return (cost + limit) / (1 + belowLimit)
}

// worst puts the largest error above the limits of the watched paths of each way and
// of the watched sums of each pair, not below 0, into way and pair.
func (a *arrangement) worst(above Limits) {
	clear(a.way)
	clear(a.pair)
	for n, t := range a.b.paths {
		if a.watched[n] {
			a.way[t.Way] = math.Max(a.way[t.Way], a.pathErr[n]-above.PathDB)
		}
	}
	for n, s := range a.b.sums {
		if a.watchedSum[n] {
			a.pair[s.Pair] = math.Max(a.pair[s.Pair], a.sumErr[n]-above.SumDB)
		}
	}
}

// total is the cost of the watched paths and sums, and of the pick's points.
func (a *arrangement) total() float64 {
	cost := 0.0
	for s, i := range a.pick {
		cost += a.pointDB * a.b.tables[s].Points[i]
	}
	a.worst(Limits{})
	for _, e := range a.way {
		cost += price(e, a.limits.PathDB)
	}
	for _, e := range a.pair {
		cost += sumWeight * price(e, a.limits.SumDB)
	}
	return cost
}

// excess is by how much watched paths and sums miss their limits (dB), in sum over
// ways and pairs.
func (a *arrangement) excess() float64 {
	a.worst(a.limits)
	total := 0.0
	for _, e := range a.way {
		total += e
	}
	for _, e := range a.pair {
		total += e
	}
	return total
}

// pathsWithin reports whether the errors of all watched paths keep their limit, and
// within whether those of the sums do too.
func (a *arrangement) pathsWithin() bool {
	for n, e := range a.pathErr {
		if a.watched[n] && e > a.limits.PathDB {
			return false
		}
	}
	return true
}

func (a *arrangement) within() bool {
	for _, e := range a.sumErr {
		if e > a.limits.SumDB {
			return false
		}
	}
	return a.pathsWithin()
}

// moved takes note of a pick that was changed from outside.
func (a *arrangement) moved(was []int) {
	for n, t := range a.b.paths {
		for _, s := range t.Stages {
			if was[s] != a.pick[s] {
				a.version[n]++
				break
			}
		}
	}
	a.refresh()
}

// plan is the arrangement as a plan.
func (a *arrangement) plan() Plan {
	p := Plan{Pick: slices.Clone(a.pick), PathDB: make([]float64, len(a.b.paths)), SumDB: make([]float64, len(a.b.sums))}
	for n := range a.b.paths {
		p.PathDB[n] = a.pathError(n, a.rows[n], a.b.zero, noLimit)
	}
	for n := range a.b.sums {
		p.SumDB[n] = a.exactSum(n)
	}
	return p
}

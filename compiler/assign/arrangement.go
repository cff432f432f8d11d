package assign

import (
	"math"
	"slices"
)

// arrangement is a pick of one choice a stage, with the errors that it makes. Not
// every path and sum is looked at while it is being improved: only those that are
// watched, as they were the worst of their way or pair at some time.
type arrangement struct {
	p *prepared
	// idle, where not nil, says that what is being improved is of no use any more.
	idle func() bool
	// most is how many parts all choices together may change; 0 for any.
	most  int
	pick  []int
	lists [][]int  // choices that each stage may pick
	rows  []Errors // of each path: those of its stages together
	// watched is what is looked at of all that is judged, and err its errors.
	watched []bool
	err     []float64
	worst   []float64 // scratch: of each group
	least   []float64 // likewise
	cost    float64
	limits  Limits // errors below them cost little; 0 for none
	pointDB float64
	// below is what errors below a limit weigh against those above.
	below float64
	// binding are the active constraints of each path and sum; see exceeds.
	binding [][remembered]int
	near    [][]int
	version []int          // of each path: how often it changed
	tried   map[[2]int]int // of each pair of stages: the versions it was tried at
	x       exchange
	zeros   []Errors // by path
}

// belowLimit is how much that usually is.
const belowLimit = 1e-3

// arrange starts an arrangement from a pick.
func (p *prepared) arrange(pick []int, lists [][]int, pointDB float64) *arrangement {
	paths, sums := len(p.paths), len(p.sums)
	a := &arrangement{p: p, pick: slices.Clone(pick), lists: lists, pointDB: pointDB, below: belowLimit,
		watched: make([]bool, paths+sums), err: make([]float64, paths+sums), worst: make([]float64, p.ways+p.pairs), least: make([]float64, p.ways+p.pairs),
		binding: make([][remembered]int, paths), near: make([][]int, sums),
		version: make([]int, paths), tried: map[[2]int]int{}}
	for n, t := range p.paths {
		a.rows, a.zeros = append(a.rows, newErrors(p.frequencies)), append(a.zeros, p.zero)
		if len(t.at) > 0 {
			for i := range a.binding[n] {
				a.binding[n][i] = t.at[i%len(t.at)]
			}
		}
	}
	for n, m := range p.sums {
		a.near[n] = slices.Clone(m.near)
	}
	a.x = newExchange(p)
	a.refresh()
	a.watchWorst()
	return a
}

// limit sets limits, and watches all paths and sums.
func (a *arrangement) limit(l Limits) {
	a.limits = Limits{math.Max(l.PathDB, scoreStep), math.Max(l.SumDB, scoreStep)}
	a.watch(0, len(a.watched))
	a.refresh()
}

// watch watches some of what is judged.
func (a *arrangement) watch(from, to int) {
	for n := from; n < to; n++ {
		a.watched[n] = true
	}
}

// refresh computes the errors of the present pick from the tables.
func (a *arrangement) refresh() {
	for n, t := range a.p.paths {
		row := a.rows[n]
		clear(row.DB)
		clear(row.Rad)
		for _, s := range t.Stages {
			row.add(a.p.tables[s].Choices[a.pick[s]])
		}
	}
	for n := range a.err {
		switch sum := n - len(a.p.paths); {
		case sum < 0:
			a.err[n] = a.pathError(n, a.rows[n], a.p.zero, noLimit)
		default:
			a.err[n] = a.sumError(sum, a.rows, a.zeros, noLimit)
		}
	}
	a.cost = a.total()
}

// watchWorst takes up the worst path of each way and the worst sum of each pair,
// and reports whether any was new.
func (a *arrangement) watchWorst() bool {
	at := slices.Repeat([]int{-1}, len(a.worst))
	for n, g := range a.p.group {
		if at[g] < 0 || a.err[n] > a.err[at[g]]+scoreStep {
			at[g] = n
		}
	}
	fresh := false
	for _, n := range at {
		if n >= 0 && !a.watched[n] {
			a.watched[n], fresh = true, true
		}
	}
	a.cost = a.total()
	return fresh
}

// limitOf is the limit (dB) of a group.
func (a *arrangement) limitOf(group int) float64 {
	if group < a.p.ways {
		return a.limits.PathDB
	}
	return a.limits.SumDB
}

// price is what an error costs under a limit, and afford the error that a price
// pays for.
func (a *arrangement) price(db, limit float64) float64 {
	if limit == 0 {
		return db
	}
	return a.below*db + math.Max(0, db-limit)
}

func (a *arrangement) afford(cost, limit float64) float64 {
	switch {
	case limit == 0:
		return cost
	case cost <= a.below*limit:
		return cost / a.below
	}
	return (cost + limit) / (1 + a.below)
}

// total is the cost of what is watched, and of the pick's points. An error of a sum
// costs as much as one of a way: what both sides have in opposite directions cancels,
// what they have in the same direction is heard.
func (a *arrangement) total() float64 {
	cost := 0.0
	for s, i := range a.pick {
		cost += a.pointDB * a.p.tables[s].Points[i]
	}
	clear(a.worst)
	for n, g := range a.p.group {
		if a.watched[n] {
			a.worst[g] = math.Max(a.worst[g], a.err[n])
		}
	}
	for g, e := range a.worst {
		cost += a.price(e, a.limitOf(g))
	}
	return cost
}

// within reports whether what is watched keeps its limits.
func (a *arrangement) within() bool {
	for n, e := range a.err {
		if a.watched[n] && e > a.limitOf(a.p.group[n]) {
			return false
		}
	}
	return true
}

// moved takes note of a pick that was changed from outside.
func (a *arrangement) moved(was []int) {
	for n, t := range a.p.paths {
		for _, s := range t.Stages {
			if was[s] != a.pick[s] {
				a.version[n]++
				break
			}
		}
	}
	a.refresh()
}

// spare is how many parts two stages may change with the choices of all others.
func (a *arrangement) spare(i, j int) int {
	if a.most == 0 {
		return math.MaxInt
	}
	n := a.most
	for s, k := range a.pick {
		if s != i && s != j {
			n -= a.p.tables[s].changes(k)
		}
	}
	return n
}

// plan is the arrangement as a plan.
func (a *arrangement) plan() Plan {
	p := Plan{Pick: slices.Clone(a.pick), PathDB: make([]float64, len(a.p.paths)), SumDB: make([]float64, len(a.p.sums))}
	for n := range a.p.paths {
		p.PathDB[n] = a.pathError(n, a.rows[n], a.p.zero, noLimit)
	}
	for n := range a.p.sums {
		p.SumDB[n] = a.exactSum(n)
	}
	return p
}

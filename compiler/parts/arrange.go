package parts

import (
	"maps"
	"math"
	"slices"

	"bandwright/biquad"
)

// arrangement is a pick of one choice a stage, with the errors that it makes.
// Not every path and sum is looked at while it is being improved: the active ones
// are those that were the worst of their way or pair at some time.
type arrangement struct {
	b *board
	// lazy: errors of paths and sums that are not active are not kept up, and only
	// stages of those that miss their limits are moved.
	lazy bool
	// idle, where not nil, says that what is being improved is of no use any more.
	idle func() bool
	// hasty: no further round where one gained little.
	hasty bool
	pick  []int
	lists [][]int // choices a stage may pick
	// db and rad are the error of each path's stages at each frequency.
	db, rad   [][]float64
	active    []bool    // paths
	activeSum []bool    // sums
	pathErr   []float64 // of active paths
	sumErr    []float64 // of active sums
	cost      float64
	pathLimit float64 // errors below it cost little; 0 for none
	sumLimit  float64
	perPoint  float64   // dB a point
	wi, wj    []float64 // scratch
	// killer is the frequency at which a path, and killerSum a sum, last proved too
	// bad: it is looked at first.
	killer    [][killers]int
	killerSum []int
	zeros     [][]float64
	memo      memo
	version   []int          // of each path: how often it changed
	seen      map[[2]int]int // of each pair of stages: the versions it was tried at
}

// memo is scratch of pair: rows by path and frequency, and views of such rows.
type memo struct {
	baseDB, baseR, rowDB, rowR   [][]float64
	viewDB, viewR, moreDB, moreR [][]float64
}

const (
	// dbPerPoint is how much error (dB) of a way is worth a point of the score that
	// is not error: cancelling errors shall not be bought with noise.
	dbPerPoint = 0.005
	// sumWeight is how much an error of a pair's sum weighs against one of a way:
	// an error that both sides share in opposite directions cancels, one in the
	// same direction is heard.
	sumWeight = 1.0
	// belowLimit is what errors below a limit weigh against those above.
	belowLimit = 1e-3
)

// arrange starts an arrangement from a pick.
func (b *board) arrange(pick []int, lists [][]int) *arrangement {
	a := &arrangement{b: b, pick: slices.Clone(pick), lists: lists, perPoint: dbPerPoint,
		active: make([]bool, len(b.paths)), activeSum: make([]bool, len(b.sums)),
		pathErr: make([]float64, len(b.paths)), sumErr: make([]float64, len(b.sums))}
	a.scratch()
	a.killer, a.killerSum = make([][killers]int, len(b.paths)), make([]int, len(b.sums))
	a.version, a.seen = make([]int, len(b.paths)), map[[2]int]int{}
	for n, t := range b.paths {
		if len(t.at) > 0 {
			for i := range killers {
				a.killer[n][i] = t.at[i%len(t.at)]
			}
		}
	}
	for n, m := range b.sums {
		if len(m.near) > 0 {
			a.killerSum[n] = m.near[0]
		}
	}
	a.refresh()
	a.activate()
	return a
}

// scratch makes rows and scratch of its own.
func (a *arrangement) scratch() {
	b := a.b
	a.db, a.rad, a.zeros, a.memo = nil, nil, nil, memo{}
	for _, rows := range []*[][]float64{&a.db, &a.rad, &a.memo.baseDB, &a.memo.baseR, &a.memo.rowDB, &a.memo.rowR} {
		for range b.paths {
			*rows = append(*rows, make([]float64, len(b.hz)))
		}
	}
	for _, views := range []*[][]float64{&a.memo.viewDB, &a.memo.viewR, &a.memo.moreDB, &a.memo.moreR} {
		*views = make([][]float64, len(b.paths))
	}
	for range b.paths {
		a.zeros = append(a.zeros, b.zero)
	}
	a.wi, a.wj = make([]float64, max(b.ways, 1)), make([]float64, max(b.pairs, 1))
}

// clone is a copy that shares what does not change.
func (a *arrangement) clone() *arrangement {
	x := *a
	x.pick, x.lists = slices.Clone(a.pick), slices.Clone(a.lists)
	x.active, x.activeSum = slices.Clone(a.active), slices.Clone(a.activeSum)
	x.pathErr, x.sumErr = slices.Clone(a.pathErr), slices.Clone(a.sumErr)
	x.killer, x.killerSum = slices.Clone(a.killer), slices.Clone(a.killerSum)
	x.version, x.seen = slices.Clone(a.version), maps.Clone(a.seen)
	x.scratch()
	for n := range a.db {
		copy(x.db[n], a.db[n])
		copy(x.rad[n], a.rad[n])
	}
	return &x
}

// refresh computes the errors of the present pick from the tables.
func (a *arrangement) refresh() {
	for n, t := range a.b.paths {
		if a.lazy && !a.active[n] {
			continue
		}
		clear(a.db[n])
		clear(a.rad[n])
		for _, s := range t.stages {
			d, r := a.b.stages[s].db[a.pick[s]], a.b.stages[s].rad[a.pick[s]]
			for k := range d {
				a.db[n][k] += d[k]
				a.rad[n][k] += r[k]
			}
		}
	}
	for n := range a.b.paths {
		if a.lazy && !a.active[n] {
			continue
		}
		a.pathErr[n] = a.pathError(n, a.db[n], a.rad[n], noLimit)
	}
	for n := range a.b.sums {
		if a.lazy && !a.activeSum[n] {
			continue
		}
		a.sumErr[n] = a.sumError(n, a.db, a.rad, a.zeros, a.zeros, noLimit)
	}
	a.cost = a.total()
}

// activate takes up the worst path of each way and the worst sum of each pair,
// and reports whether any was new.
func (a *arrangement) activate() bool {
	fresh := false
	for way := range a.b.ways {
		at := -1
		for n, t := range a.b.paths {
			if t.way == way && (at < 0 || a.pathErr[n] > a.pathErr[at]+scoreStep) {
				at = n
			}
		}
		if at >= 0 && !a.active[at] {
			a.active[at], fresh = true, true
		}
	}
	for pair := range a.b.pairs {
		at := -1
		for n, s := range a.b.sums {
			if s.pair == pair && (at < 0 || a.sumErr[n] > a.sumErr[at]+scoreStep) {
				at = n
			}
		}
		if at >= 0 && !a.activeSum[at] {
			a.activeSum[at], fresh = true, true
		}
	}
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

// total is the cost of the active paths and sums, and of the pick's points.
func (a *arrangement) total() float64 {
	cost := 0.0
	for s, i := range a.pick {
		cost += a.perPoint * a.b.stages[s].points[i]
	}
	clear(a.wi)
	clear(a.wj)
	for n, t := range a.b.paths {
		if a.active[n] {
			a.wi[t.way] = math.Max(a.wi[t.way], a.pathErr[n])
		}
	}
	for n, s := range a.b.sums {
		if a.activeSum[n] {
			a.wj[s.pair] = math.Max(a.wj[s.pair], a.sumErr[n])
		}
	}
	for _, e := range a.wi {
		cost += price(e, a.pathLimit)
	}
	for _, e := range a.wj {
		cost += sumWeight * price(e, a.sumLimit)
	}
	return cost
}

// pathError is the largest error (dB) of a path whose stages have the errors db and rad,
// or more than limit as soon as that is clear.
func (a *arrangement) pathError(n int, db, rad []float64, limit float64) float64 {
	t := &a.b.paths[n]
	if len(t.at) == 0 {
		return 0
	}
	worst := 0.0
	for _, k := range t.at {
		if e := math.Abs(db[k] + t.extra[k]); e > worst {
			worst = e
			if worst > limit {
				a.kill(n, k)
				return worst
			}
		}
	}
	for i, k := range t.turns {
		if e := math.Abs(rad[k]) * t.perRad[i]; e > worst {
			if worst = e; worst > limit {
				break
			}
		}
	}
	return worst
}

// sumError is the largest error (dB) of a sum, where no path stands alone, with the
// errors db + moreDB and rad + moreR of the paths. Errors of paths are small, so that three terms of the
// exponential series give more digits than are compared.
func (a *arrangement) sumError(n int, db, rad, moreDB, moreR [][]float64, limit float64) float64 {
	m := &a.b.sums[n]
	if len(m.near) == 0 {
		return 0
	}
	high, low := bounds(limit)
	top, bottom := 1.0, 1.0
	for i := -1; i < len(m.near); i++ {
		k := a.killerSum[n]
		if i >= 0 {
			k = m.near[i]
		}
		var re, im float64
		for s, p := range m.paths {
			x, y := (db[p][k]+moreDB[p][k])/perNeper, rad[p][k]+moreR[p][k]
			// 1 + z(1 + z/2(1 + z/3)) for z = x+jy
			u, v := 1+x/3, y/3
			u, v = 1+(float64(x*u)-float64(y*v))/2, (float64(x*v)+float64(y*u))/2
			u, v = 1+float64(x*u)-float64(y*v), float64(x*v)+float64(y*u)
			h := m.share[s][k]
			re += float64(real(h)*u) - float64(imag(h)*v)
			im += float64(real(h)*v) + float64(imag(h)*u)
		}
		p := float64(re*re) + float64(im*im)
		if p > high || p < low {
			a.killerSum[n] = k
			return math.Inf(1)
		}
		if i >= 0 {
			if p > top {
				top = p
			}
			if p < bottom {
				bottom = p
			}
		}
	}
	return math.Max(10*math.Log10(top), -10*math.Log10(math.Max(bottom, math.SmallestNonzeroFloat64)))
}

// pathErrorOf is pathError of db + more and rad + moreR.
func (a *arrangement) pathErrorOf(n int, db, rad, more, moreR []float64, limit float64) float64 {
	t := &a.b.paths[n]
	if len(t.at) == 0 {
		return 0
	}
	worst := 0.0
	for _, k := range t.at {
		if e := math.Abs(db[k] + more[k] + t.extra[k]); e > worst {
			worst = e
			if worst > limit {
				a.kill(n, k)
				return worst
			}
		}
	}
	for i, k := range t.turns {
		if e := math.Abs(rad[k]+moreR[k]) * t.perRad[i]; e > worst {
			if worst = e; worst > limit {
				break
			}
		}
	}
	return worst
}

// exactSum is sumError without the series.
func (a *arrangement) exactSum(n int) float64 {
	m := &a.b.sums[n]
	worst := 0.0
	for _, k := range m.at {
		var sum complex128
		for i, p := range m.paths {
			s, c := math.Sincos(a.rad[p][k])
			g := biquad.FromDB(a.db[p][k])
			sum += m.share[i][k] * complex(g*c, g*s)
		}
		worst = math.Max(worst, math.Abs(biquad.DB(sum)))
	}
	return worst
}

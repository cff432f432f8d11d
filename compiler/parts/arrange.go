package parts

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// arrangement is a pick of one choice a stage, with the errors that it makes.
// Not every path and sum is looked at while it is being improved: the active ones
// are those that were the worst of their way or pair at some time.
type arrangement struct {
	b     *board
	pick  []int
	lists [][]int // choices a stage may pick
	// db and rad are the error of each path at each frequency.
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
	version   []int          // of each path: how often it changed
	seen      map[[2]int]int // of each pair of stages: the versions it was tried at
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
	// rounds2opt bounds the rounds over all pairs of stages.
	rounds2opt = 12
	// roundsActive bounds how often paths that turn out worst are taken up.
	roundsActive = 6
)

// arrange starts an arrangement from a pick.
func (b *board) arrange(pick []int, lists [][]int) *arrangement {
	a := &arrangement{b: b, pick: slices.Clone(pick), lists: lists, perPoint: dbPerPoint,
		active: make([]bool, len(b.paths)), activeSum: make([]bool, len(b.sums)),
		pathErr: make([]float64, len(b.paths)), sumErr: make([]float64, len(b.sums))}
	for range b.paths {
		a.db, a.rad = append(a.db, make([]float64, len(b.hz))), append(a.rad, make([]float64, len(b.hz)))
	}
	a.killer, a.killerSum = make([][killers]int, len(b.paths)), make([]int, len(b.sums))
	a.version, a.seen = make([]int, len(b.paths)), map[[2]int]int{}
	a.wi, a.wj = make([]float64, max(b.ways, 1)), make([]float64, max(b.pairs, 1))
	for n, t := range b.paths {
		a.zeros = append(a.zeros, b.zero)
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

// refresh computes the errors of the present pick from the tables.
func (a *arrangement) refresh() {
	for n, t := range a.b.paths {
		copy(a.db[n], t.db)
		copy(a.rad[n], t.rad)
		for _, s := range t.stages {
			d, r := a.b.stages[s].db[a.pick[s]], a.b.stages[s].rad[a.pick[s]]
			for k := range d {
				a.db[n][k] += d[k]
				a.rad[n][k] += r[k]
			}
		}
	}
	for n := range a.b.paths {
		a.pathErr[n] = a.pathError(n, a.db[n], noLimit)
	}
	for n := range a.b.sums {
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

// pathError is the largest error (dB) of a path whose error at each frequency is
// db, or more than limit as soon as that is clear.
func (a *arrangement) pathError(n int, db []float64, limit float64) float64 {
	t := &a.b.paths[n]
	if len(t.at) == 0 {
		return 0
	}
	worst := 0.0
	for _, k := range t.at {
		if e := math.Abs(db[k]); e > worst {
			worst = e
			if worst > limit {
				a.kill(n, k)
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
			top, bottom = math.Max(top, p), math.Min(bottom, p)
		}
	}
	return math.Max(10*math.Log10(top), -10*math.Log10(math.Max(bottom, math.SmallestNonzeroFloat64)))
}

// killers is how many frequencies at which a path proved too bad are remembered.
const killers = 4

func (a *arrangement) kill(path, k int) {
	last := &a.killer[path]
	for i := range last {
		if last[i] == k {
			return
		}
	}
	copy(last[1:], last[:killers-1])
	last[0] = k
}

// survivors are the choices of stage j whose errors are within limit at the
// killers of a path that has the errors row without them.
func (a *arrangement) survivors(list []int, path, j int, row []float64, limit float64) []int {
	for _, k := range a.killer[path] {
		column, r := a.b.stages[j].column[k], row[k]
		kept := list[:0]
		for _, c := range list {
			if math.Abs(r+column[c]) <= limit {
				kept = append(kept, c)
			}
		}
		list = kept
	}
	return list
}

const (
	// shortList is how many choices a stage has while the search is wide.
	shortList = 30
	// kicks is how often the best arrangement is disturbed, in kicked stages of one
	// way, and improved again.
	kicks, kicked = 12, 3
)

// search improves with short lists, from the start and from disturbed results,
// and then with the whole ones.
func (a *arrangement) search() {
	whole := a.lists
	a.lists = make([][]int, len(whole))
	for i, list := range whole {
		a.lists[i] = list[:min(shortList, len(list))]
	}
	a.improve(nil)
	var dice chance
	for range kicks {
		if len(a.b.paths) == 0 {
			break
		}
		cost, pick := a.cost, slices.Clone(a.pick)
		stages := a.b.paths[dice.below(len(a.b.paths))].stages
		for range min(kicked, len(stages)) {
			s := stages[dice.below(len(stages))]
			a.pick[s] = a.lists[s][dice.below(len(a.lists[s]))]
		}
		a.moved(pick)
		a.improve(nil)
		if a.cost > cost-scoreStep {
			kicked := slices.Clone(a.pick)
			copy(a.pick, pick)
			a.moved(kicked)
		}
	}
	a.lists = whole
	clear(a.seen)
	a.improve(nil)
}

// moved takes note of a pick that was changed from outside.
func (a *arrangement) moved(was []int) {
	for n, t := range a.b.paths {
		for _, s := range t.stages {
			if was[s] != a.pick[s] {
				a.version[n]++
				break
			}
		}
	}
	a.refresh()
}

// improve lowers the cost by changing two stages at a time until no pair of
// choices does, or until enough says so.
func (a *arrangement) improve(enough func() bool) {
	for range roundsActive {
		a.descend(enough)
		a.refresh()
		if !a.activate() {
			return
		}
		clear(a.seen)
	}
}

func (a *arrangement) descend(enough func() bool) {
	if len(a.b.stages) == 1 {
		a.pair(0, 0)
		return
	}
	for range rounds2opt {
		changed := false
		for i := range a.b.stages {
			for j := i + 1; j < len(a.b.stages); j++ {
				if !a.together(i, j) {
					continue
				}
				if a.pair(i, j) {
					changed = true
				}
				if enough != nil && enough() {
					return
				}
			}
		}
		if !changed {
			return
		}
	}
}

// together reports whether two stages have an active path in common. Those of
// different ways meet in a sum only, where the stages of one way at a time do.
func (a *arrangement) together(i, j int) bool {
	for n, t := range a.b.paths {
		if a.active[n] && t.has[i] && t.has[j] {
			return true
		}
	}
	return false
}

// pair picks the best choices of two stages, and reports whether they changed.
func (a *arrangement) pair(i, j int) bool {
	b := a.b
	wasI, wasJ := a.pick[i], a.pick[j]
	var touched []int // active paths, and those of active sums
	var sums []int
	needed := make([]bool, len(b.paths))
	for n := range b.sums {
		if !a.activeSum[n] {
			continue
		}
		hit := false
		for _, p := range b.sums[n].paths {
			hit = hit || b.paths[p].has[i] || b.paths[p].has[j]
		}
		if hit {
			sums = append(sums, n)
			for _, p := range b.sums[n].paths {
				needed[p] = true
			}
		}
	}
	for n, t := range b.paths {
		if (t.has[i] || t.has[j]) && (a.active[n] || needed[n]) {
			touched = append(touched, n)
		}
	}
	stamp := 1
	for n, t := range b.paths {
		if t.has[i] || t.has[j] || needed[n] {
			stamp += a.version[n]
		}
	}
	if len(touched) == 0 || a.seen[[2]int{i, j}] == stamp {
		return false
	}
	a.seen[[2]int{i, j}] = stamp
	// What stays as it is.
	fixed := 0.0
	for s, k := range a.pick {
		if s != i && s != j {
			fixed += a.perPoint * b.stages[s].points[k]
		}
	}
	wayBase, pairBase := make([]float64, b.ways), make([]float64, b.pairs)
	wayHit, pairHit := make([]bool, b.ways), make([]bool, b.pairs)
	for n, t := range b.paths {
		switch {
		case !a.active[n]:
		case slices.Contains(touched, n):
			wayHit[t.way] = true
		default:
			wayBase[t.way] = math.Max(wayBase[t.way], a.pathErr[n])
		}
	}
	for n, m := range b.sums {
		switch {
		case !a.activeSum[n]:
		case slices.Contains(sums, n):
			pairHit[m.pair] = true
		default:
			pairBase[m.pair] = math.Max(pairBase[m.pair], a.sumErr[n])
		}
	}
	for w, e := range wayBase {
		if !wayHit[w] {
			fixed += price(e, a.pathLimit)
		}
	}
	for w, e := range pairBase {
		if !pairHit[w] {
			fixed += sumWeight * price(e, a.sumLimit)
		}
	}
	baseDB, baseR := make([][]float64, len(b.paths)), make([][]float64, len(b.paths))
	rowDB, rowR := slices.Clone(a.db), slices.Clone(a.rad)
	moreDB, moreR := slices.Clone(a.zeros), slices.Clone(a.zeros)
	for _, n := range touched {
		baseDB[n], baseR[n] = slices.Clone(a.db[n]), slices.Clone(a.rad[n])
		for _, s := range stagesOf(i, j) {
			if b.paths[n].has[s] {
				subtract(baseDB[n], b.stages[s].db[a.pick[s]])
				subtract(baseR[n], b.stages[s].rad[a.pick[s]])
			}
		}
		rowDB[n], rowR[n] = make([]float64, len(b.hz)), make([]float64, len(b.hz))
	}
	best := a.cost - scoreStep
	bestI, bestJ := -1, -1
	listJ := a.lists[j]
	if i == j {
		listJ = []int{-1}
	}
	alone := make([]float64, len(b.paths)) // errors of paths without stage j
	way, left := make([]float64, b.ways), make([]int, 0, len(listJ))
	for _, ci := range a.lists[i] {
		pointsI := fixed + a.perPoint*b.stages[i].points[ci]
		if pointsI >= best {
			continue
		}
		for _, n := range touched {
			plus(rowDB[n], baseDB[n], b.stages[i].db[ci], b.paths[n].has[i])
			plus(rowR[n], baseR[n], b.stages[i].rad[ci], b.paths[n].has[i])
		}
		limit := afford(best-pointsI, a.pathLimit)
		left = append(left[:0], listJ...)
		for _, n := range touched {
			switch {
			case !a.active[n] || len(b.paths[n].at) == 0:
			case i != j && b.paths[n].has[j]:
				left = a.survivors(left, n, j, rowDB[n], limit)
			default:
				if alone[n] = a.pathError(n, rowDB[n], limit); alone[n] > limit {
					left = left[:0]
				}
			}
		}
	next:
		for _, cj := range left {
			cost := pointsI
			if cj >= 0 {
				cost += a.perPoint * b.stages[j].points[cj]
			}
			copy(way, wayBase)
			for _, n := range touched {
				if !a.active[n] {
					continue
				}
				w := b.paths[n].way
				limit := afford(best-cost, a.pathLimit)
				var e float64
				if cj >= 0 && b.paths[n].has[j] {
					e = a.pathErrorOf(n, rowDB[n], b.stages[j].db[cj], limit)
				} else {
					e = alone[n]
				}
				if e > limit {
					continue next
				}
				way[w] = math.Max(way[w], e)
			}
			for w, hit := range wayHit {
				if hit {
					cost += price(way[w], a.pathLimit)
				}
			}
			if cost >= best {
				continue
			}
			if len(sums) > 0 {
				for _, n := range touched {
					moreDB[n], moreR[n] = b.zero, b.zero
					if cj >= 0 && b.paths[n].has[j] {
						moreDB[n], moreR[n] = b.stages[j].db[cj], b.stages[j].rad[cj]
					}
				}
				sum := a.wj
				copy(sum, pairBase)
				for _, n := range sums {
					limit := afford((best-cost)/sumWeight, a.sumLimit)
					e := a.sumError(n, rowDB, rowR, moreDB, moreR, limit)
					if e > limit {
						continue next
					}
					sum[b.sums[n].pair] = math.Max(sum[b.sums[n].pair], e)
				}
				for w, hit := range pairHit {
					if hit {
						cost += sumWeight * price(sum[w], a.sumLimit)
					}
				}
			}
			if cost < best {
				best, bestI, bestJ = cost, ci, cj
			}
		}
	}
	if bestI < 0 || bestI == wasI && (bestJ == wasJ || bestJ < 0) {
		return false
	}
	a.pick[i] = bestI
	if bestJ >= 0 {
		a.pick[j] = bestJ
	}
	for n, t := range b.paths {
		if t.has[i] && bestI != wasI || t.has[j] && bestJ != wasJ {
			a.version[n]++
		}
	}
	a.refresh()
	return true
}

// pathErrorOf is pathError of db + more.
func (a *arrangement) pathErrorOf(n int, db, more []float64, limit float64) float64 {
	t := &a.b.paths[n]
	if len(t.at) == 0 {
		return 0
	}
	worst := 0.0
	for _, k := range t.at {
		if e := math.Abs(db[k] + more[k]); e > worst {
			worst = e
			if worst > limit {
				a.kill(n, k)
				break
			}
		}
	}
	return worst
}

func stagesOf(i, j int) []int {
	if i == j {
		return []int{i}
	}
	return []int{i, j}
}

func subtract(a, b []float64) {
	for k := range a {
		a[k] -= b[k]
	}
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

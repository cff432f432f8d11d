package parts

import (
	"math"
	"slices"
)

const (
	// rounds2opt bounds the rounds over all pairs of stages.
	rounds2opt = 12
	// roundsActive bounds how often paths that turn out worst are taken up.
	roundsActive = 6
)

// hopelessShare is the share of what limits are missed by that a round may leave
// for there to be another one, where any miss is as bad as none kept.
const hopelessShare = 0.6

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
// killers of a path that has the errors base and own without them.
func (a *arrangement) survivors(list []int, path, j int, base, own []float64, limit float64) []int {
	extra := a.b.paths[path].extra
	for _, k := range a.killer[path] {
		column, r := a.b.stages[j].column[k], base[k]+own[k]+extra[k]
		kept := list[:0]
		for _, c := range list {
			if math.Abs(r+column[c]) <= limit {
				kept = append(kept, c)
			}
		}
		if list = kept; len(list) == 0 {
			break
		}
	}
	return list
}

// survives reports whether a path that has the errors base and own is within limit
// at its killers.
func (a *arrangement) survives(path int, base, own []float64, limit float64) bool {
	extra := a.b.paths[path].extra
	for _, k := range a.killer[path] {
		if math.Abs(base[k]+own[k]+extra[k]) > limit {
			return false
		}
	}
	return true
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
		if len(a.b.paths) == 0 || a.useless() {
			break
		}
		cost, pick := a.cost, slices.Clone(a.pick)
		stages := a.choosing(a.b.paths[dice.below(len(a.b.paths))].stages)
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

func (a *arrangement) useless() bool { return a.idle != nil && a.idle() }

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
		a.descend(rounds2opt, enough)
		a.refresh()
		if !a.activate() || a.useless() {
			return
		}
		clear(a.seen)
	}
}

func (a *arrangement) descend(rounds int, enough func() bool) {
	// A stage that shares no path with another one moves by itself.
	var pairs [][2]int
	moving, partnered := a.moving(), map[int]bool{}
	for n, i := range moving {
		for _, j := range moving[n+1:] {
			if a.together(i, j) {
				pairs = append(pairs, [2]int{i, j})
				partnered[i], partnered[j] = true, true
			}
		}
		if !partnered[i] {
			pairs = append(pairs, [2]int{i, i})
		}
	}
	for range rounds {
		changed, was := false, a.cost
		for _, p := range pairs {
			if a.lazy && !a.broken(p[0], p[1]) {
				continue
			}
			if a.pair(p[0], p[1]) {
				changed = true
			}
			if enough != nil && enough() || a.useless() {
				return
			}
		}
		if !changed || a.hasty && a.cost > hopelessShare*was {
			return
		}
	}
}

// broken reports whether an active path or sum that one of two stages is in misses
// its limit.
func (a *arrangement) broken(i, j int) bool {
	for n, t := range a.b.paths {
		if a.active[n] && a.pathErr[n] > a.pathLimit && (t.has[i] || t.has[j]) {
			return true
		}
	}
	for n, m := range a.b.sums {
		if a.activeSum[n] && a.sumErr[n] > a.sumLimit {
			for _, p := range m.paths {
				if a.b.paths[p].has[i] || a.b.paths[p].has[j] {
					return true
				}
			}
		}
	}
	return false
}

// choosing are those of some stages with a choice to make.
func (a *arrangement) choosing(stages []int) []int {
	var out []int
	for _, s := range stages {
		if len(a.lists[s]) > 1 {
			out = append(out, s)
		}
	}
	return out
}

// moving are the stages with a choice to make.
func (a *arrangement) moving() []int {
	var out []int
	for i, list := range a.lists {
		if len(list) > 1 {
			out = append(out, i)
		}
	}
	return out
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
	m := &a.memo
	baseDB, baseR := m.baseDB, m.baseR
	rowDB, rowR := append(m.viewDB[:0], a.db...), append(m.viewR[:0], a.rad...)
	moreDB, moreR := append(m.moreDB[:0], a.zeros...), append(m.moreR[:0], a.zeros...)
	phases := make([]bool, len(b.paths)) // whose phase is looked at
	for _, n := range touched {
		phases[n] = len(sums) > 0 || len(b.paths[n].turns) > 0
		copy(baseDB[n], a.db[n])
		copy(baseR[n], a.rad[n])
		for _, s := range stagesOf(i, j) {
			if b.paths[n].has[s] {
				subtract(baseDB[n], b.stages[s].db[a.pick[s]])
				if phases[n] {
					subtract(baseR[n], b.stages[s].rad[a.pick[s]])
				}
			}
		}
		rowDB[n], rowR[n] = m.rowDB[n], m.rowR[n]
	}
	// What is no better by scoreStep is passed over, and what is worse than that by
	// half of it is not looked at further, so that rounding decides nothing.
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
		dbI, radI := b.stages[i].db[ci], b.stages[i].rad[ci]
		limit := afford(best+scoreStep/2-pointsI, a.pathLimit)
		left = append(left[:0], listJ...)
		for _, n := range touched {
			if !a.active[n] || len(b.paths[n].at) == 0 {
				continue
			}
			own := dbI
			if !b.paths[n].has[i] {
				own = b.zero
			}
			if i != j && b.paths[n].has[j] {
				left = a.survivors(left, n, j, baseDB[n], own, limit)
			} else if !a.survives(n, baseDB[n], own, limit) {
				left = left[:0]
			}
			if len(left) == 0 {
				break
			}
		}
		if len(left) == 0 {
			continue
		}
		for _, n := range touched {
			plus(rowDB[n], baseDB[n], dbI, b.paths[n].has[i])
			if phases[n] {
				plus(rowR[n], baseR[n], radI, b.paths[n].has[i])
			}
			if a.active[n] && (i == j || !b.paths[n].has[j]) {
				if alone[n] = a.pathError(n, rowDB[n], rowR[n], limit); alone[n] > limit {
					left = left[:0]
					break
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
				limit := afford(best+scoreStep/2-cost, a.pathLimit)
				var e float64
				if cj >= 0 && b.paths[n].has[j] {
					e = a.pathErrorOf(n, rowDB[n], rowR[n], b.stages[j].db[cj], b.stages[j].rad[cj], limit)
				} else {
					e = alone[n]
				}
				if e > limit {
					continue next
				}
				if e > way[w] {
					way[w] = e
				}
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
					limit := afford((best+scoreStep/2-cost)/sumWeight, a.sumLimit)
					e := a.sumError(n, rowDB, rowR, moreDB, moreR, limit)
					if e > limit {
						continue next
					}
					if e > sum[b.sums[n].pair] {
						sum[b.sums[n].pair] = e
					}
				}
				for w, hit := range pairHit {
					if hit {
						cost += sumWeight * price(sum[w], a.sumLimit)
					}
				}
			}
			if cost < best {
				best, bestI, bestJ = cost-scoreStep, ci, cj
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

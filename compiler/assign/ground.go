package assign

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
)

// ground is what the chains of a search for few values have in common. Whatever has a
// limit at a frequency is a row, a weighted sum of stages' errors that may be 1 off
// zero: of paths' magnitude and phase, and of sums, to the first order.
type ground struct {
	few     Few
	looked  int     // frequencies, the first ones
	leaders []int   // stages that follow none
	members [][]int // of each of them: itself and those that follow it
	numbers int     // of values
	rows    int
	budgets int
	fixed   []float64   // of each row
	touched [][]touch   // of each stage
	table   [][]float32 // of each stage: dB, then rad, by choice
	values  [][][]int32 // of each choice of each stage, each once
	pairs   []kinPair
}

// touch is what errors of a stage at a frequency weigh in a row: at counts through the
// frequencies of all that follow one stage.
type touch struct {
	row, at       int32
	perDB, perRad float64
}

// kinPair is two stages in the same paths, with the pairs of choices that cancel.
type kinPair struct {
	i, j    int
	choices [][2]int32
}

// ground prepares a search.
func (p *prepared) ground(f Few) *ground {
	g := &ground{few: f, looked: min(Looked, p.frequencies), touched: make([][]touch, len(p.tables)),
		table: make([][]float32, len(p.tables)), values: make([][][]int32, len(p.tables)), members: make([][]int, len(p.tables))}
	for s := range p.tables {
		n := g.leader(s)
		g.members[n] = append(g.members[n], s)
		if n == s {
			g.leaders = append(g.leaders, s)
		}
	}
	g.enterPaths(p)
	g.enterSums(p)
	parallel.Each(len(g.leaders), func(i int) {
		g.enterChoices(p, g.leaders[i])
		g.telling(g.leaders[i])
	})
	for _, v := range f.InUse {
		g.numbers = max(g.numbers, v+1)
	}
	for s, values := range g.values {
		for _, list := range values {
			for _, v := range list {
				g.numbers = max(g.numbers, int(v)+1)
			}
		}
		if f.Costs != nil && g.budgets == 0 {
			g.budgets = len(f.Costs(s, f.Pick[s]))
		}
	}
	g.enterPairs(p)
	return g
}

// leader is the stage whose choice a stage has.
func (g *ground) leader(s int) int {
	if g.few.Follows == nil {
		return s
	}
	return g.few.Follows[s]
}

// follow is a pick in which every stage has the choice of the one that it follows.
func (g *ground) follow(pick []int) []int {
	out := make([]int, len(pick))
	for s := range out {
		out[s] = pick[g.leader(s)]
	}
	return out
}

// enterChoices adds errors and values of a stage's choices.
func (g *ground) enterChoices(p *prepared, s int) {
	t := &p.tables[s]
	for c := range t.Choices {
		for _, m := range g.members[s] {
			for _, x := range p.tables[m].Choices[c].DB[:g.looked] {
				g.table[s] = append(g.table[s], float32(x))
			}
		}
		for _, m := range g.members[s] {
			for _, x := range p.tables[m].Choices[c].Rad[:g.looked] {
				g.table[s] = append(g.table[s], float32(x))
			}
		}
		var once []int32
		for _, v := range t.Values[c] {
			if !slices.Contains(once, int32(v)) {
				once = append(once, int32(v))
			}
		}
		g.values[s] = append(g.values[s], once)
	}
}

// telling puts what a stage touches in the order of how much its choices differ there, so that
// what a move costs shows soon.
func (g *ground) telling(s int) {
	list := g.touched[s]
	spread := make([]float64, len(list))
	for n, t := range list {
		low, high := math.Inf(1), math.Inf(-1)
		for c := range g.values[s] {
			db, rad := g.errors(s, c)
			x := float64(t.perDB*float64(db[t.at])) + float64(t.perRad*float64(rad[t.at]))
			low, high = math.Min(low, x), math.Max(high, x)
		}
		spread[n] = high - low
	}
	order := make([]int, len(list))
	for n := range order {
		order[n] = n
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(spread[j], spread[i]) })
	sorted := make([]touch, len(list))
	for n, k := range order {
		sorted[n] = list[k]
	}
	g.touched[s] = sorted
}

// costs are the shares of budgets that a choice uses up.
func (g *ground) costs(stage, choice int) []float64 {
	if g.budgets == 0 {
		return nil
	}
	return g.few.Costs(stage, choice)
}

// errors are those of a choice, of all that follow the stage one behind the other.
func (g *ground) errors(stage, choice int) (db, rad []float32) {
	n := g.looked * len(g.members[stage])
	row := g.table[stage][2*choice*n:][:2*n]
	return row[:n], row[n:]
}

// enter adds a row in which errors of stages weigh.
func (g *ground) enter(at int, fixed float64, weights func(stage int) (perDB, perRad float64)) {
	for s := range g.touched {
		if db, rad := weights(s); db != 0 || rad != 0 {
			n := g.leader(s)
			place := slices.Index(g.members[n], s)
			g.touched[n] = append(g.touched[n], touch{int32(g.rows), int32(place*g.looked + at), db, rad})
		}
	}
	g.fixed = append(g.fixed, fixed)
	g.rows++
}

// enterPaths adds the rows of paths.
func (g *ground) enterPaths(p *prepared) {
	limit := nearShare * g.few.Limits.PathDB
	for _, t := range p.paths {
		for _, k := range t.at {
			if k < g.looked {
				g.enter(k, t.extraDB[k]/limit, func(s int) (perDB, perRad float64) {
					if t.has[s] {
						perDB = 1 / limit
					}
					return perDB, 0
				})
			}
		}
		for _, k := range t.turns {
			if k < g.looked {
				g.enter(k, 0, func(s int) (perDB, perRad float64) {
					if t.has[s] {
						perRad = t.PerRad[k] / limit
					}
					return 0, perRad
				})
			}
		}
	}
}

// enterSums adds the rows of sums: an error of dB + j·rad of a path changes a sum by the
// real part of its share of that.
func (g *ground) enterSums(p *prepared) {
	limit := nearShare * g.few.Limits.SumDB
	for _, m := range p.sums {
		at := m.near
		if g.few.Limits.SumDB < g.few.Limits.PathDB {
			at = m.at // where one path stands alone its own limit is not enough
		}
		for _, k := range at {
			if k >= g.looked {
				continue
			}
			var all complex128
			for i := range m.Paths {
				all += m.share[i][k]
			}
			g.enter(k, biquad.DB(all)/limit, func(s int) (perDB, perRad float64) {
				for i, n := range m.Paths {
					if p.paths[n].has[s] {
						perDB += real(m.share[i][k]) / limit
						perRad -= imag(m.share[i][k]) * perNeper / limit
					}
				}
				return perDB, perRad
			})
		}
	}
}

// enterPairs lists the pairs of kin that cancel.
func (g *ground) enterPairs(p *prepared) {
	for i := range p.tables {
		for j := range i {
			if g.few.Kin != nil && g.few.Kin[i] == g.few.Kin[j] && len(g.members[i]) == 1 && len(g.members[j]) == 1 && len(g.values[i]) > 1 && len(g.values[j]) > 1 &&
				!slices.ContainsFunc(p.paths, func(t path) bool { return t.has[i] != t.has[j] }) {
				g.pairs = append(g.pairs, kinPair{i: i, j: j})
			}
		}
	}
	parallel.Each(len(g.pairs), func(n int) { g.pairs[n].choices = g.cancelling(g.pairs[n].i, g.pairs[n].j) })
	g.pairs = slices.DeleteFunc(g.pairs, func(x kinPair) bool { return len(x.choices) == 0 })
}

// cancelling lists the pairs of choices of two stages whose errors in dB nearly cancel
// where they count, of too many those with the fewest different values.
func (g *ground) cancelling(i, j int) [][2]int32 {
	most := float32(cancelling * g.few.Limits.PathDB)
	var at []int // frequencies where magnitude counts
	for _, t := range g.touched[i] {
		if t.perRad == 0 && !slices.Contains(at, int(t.at)) {
			at = append(at, int(t.at))
		}
	}
	if len(at) == 0 {
		return nil
	}
	// In the order of the errors where they are largest, few choices are opposite to one.
	key := g.loudest(j, at)
	of := func(c int) float32 { db, _ := g.errors(j, c); return db[key] }
	order := make([]int, len(g.values[j]))
	for c := range order {
		order[c] = c
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(of(x), of(y)) })
	var out [][2]int32
	for c := range g.values[i] {
		db, _ := g.errors(i, c)
		from := sort.Search(len(order), func(n int) bool { return of(order[n]) >= -most-db[key] })
	next:
		for _, d := range order[from:] {
			other, _ := g.errors(j, d)
			if other[key] > most-db[key] {
				break
			}
			for _, k := range at {
				if x := db[k] + other[k]; x > most || x < -most {
					continue next
				}
			}
			out = append(out, [2]int32{int32(c), int32(d)})
		}
	}
	return g.fewestOf(out, i, j)
}

// loudest is where the errors in dB of a stage's choices are the largest, of some
// frequencies.
func (g *ground) loudest(stage int, at []int) int {
	most, key := 0.0, at[0]
	for _, k := range at {
		sum := 0.0
		for c := range g.values[stage] {
			db, _ := g.errors(stage, c)
			sum += math.Abs(float64(db[k]))
		}
		if sum > most {
			most, key = sum, k
		}
	}
	return key
}

// fewestOf are at most mostPairs pairs of choices of two stages, those with the fewest
// different values.
func (g *ground) fewestOf(all [][2]int32, i, j int) [][2]int32 {
	if len(all) <= mostPairs {
		return all
	}
	mark := make([]int, g.numbers) // the latest choice of i that has a value, from 1
	marked := 0
	var by [][][2]int32 // by how many values
	for _, x := range all {
		if marked != int(x[0])+1 {
			marked = int(x[0]) + 1
			for _, v := range g.values[i][x[0]] {
				mark[v] = marked
			}
		}
		n := len(g.values[i][x[0]])
		for _, v := range g.values[j][x[1]] {
			if mark[v] != marked {
				n++
			}
		}
		for len(by) <= n {
			by = append(by, nil)
		}
		by[n] = append(by[n], x)
	}
	all = slices.Concat(by...)
	return all[:mostPairs]
}

package assign

import (
	"slices"

	"bandwright/compiler/parallel"
)

// Values are looked for by elimination: the palette, the set of values in use, loses
// one after the other as long as the stages can be arranged inside it within the
// limits. Then the one that is missed least is taken out all the same, and values are
// swapped by tabu search (Glover, ORSA J. Computing 1, 1989) until the limits are kept
// again.

const (
	// swapSeed is where the numbers begin that swaps are drawn by. Any would do;
	// from one to the next the fewest values found differ by up to four.
	swapSeed = 3
	// swaps is how many swaps in a row may miss the limits on the way to one value
	// less, the best of at most swapsTried each; swapped values stay for tabu more.
	swaps, swapsTried, tabu = 6, 100, 6
	// gained (dB) is what a swap has to gain to be taken before all are tried.
	gained = 1e-3
	// nearby (dB) is the miss that is worth a thorough arrangement.
	nearby = 0.01
	// agreements is how often an arrangement is mended that the exact errors do not
	// agree with.
	agreements = 4
	// mostWork bounds a search: palettes tried times stages, four times what a
	// four-way board needs.
	mostWork = 1.3e5
	// nearShare of the limits is for what tables estimate.
	nearShare = 0.985
)

// Few is what Fewest begins with and keeps to. Limits are above 0 dB.
type Few struct {
	Pick   []int // within the limits
	Limits Limits
	// Exact gives the errors of a stage's choice where tables hold an estimate that
	// is nearly right.
	Exact func(stage, choice int) (Errors, error)
}

// Fewest returns the pick with the fewest different values that it finds within the
// limits. It writes to the tables' errors.
func Fewest(p Problem, f Few) ([]int, error) {
	b, err := p.prepare()
	if err != nil {
		return nil, err
	}
	s := newReduction(b, f, p.PointDB)
	s.useless = p.Idle
	for s.err == nil && !s.idle() {
		for s.dropOne() {
		}
		if !s.swapOne() {
			break
		}
	}
	return s.Pick, s.err
}

// reduction is a palette under way to fewer values, with the pick that has them.
type reduction struct {
	Few
	p       *prepared
	values  int         // how many there are
	sets    [][]palette // of each stage's choices
	palette palette
	exact   []Errors // of the pick
	workers []*arrangement
	// core are the paths looked at first, one of each way, and inCore their stages.
	core, inCore []bool
	dice         random
	work         int
	useless      func() bool // as Problem.Idle
	err          error
}

// newReduction starts a search.
func newReduction(p *prepared, f Few, pointDB float64) *reduction {
	s := &reduction{Few: f, p: p, core: p.longest(), inCore: make([]bool, len(p.tables)), dice: swapSeed}
	for _, t := range p.tables {
		for _, values := range t.Values {
			for _, v := range values {
				s.values = max(s.values, v+1)
			}
		}
	}
	for _, t := range p.tables {
		sets := make([]palette, len(t.Choices))
		for k, values := range t.Values {
			sets[k] = newPalette(s.values, values...)
		}
		s.sets = append(s.sets, sets)
	}
	for n, core := range s.core {
		for _, i := range p.paths[n].Stages {
			s.inCore[i] = s.inCore[i] || core
		}
	}
	for range parallel.Workers() {
		a := p.arrange(f.Pick, make([][]int, len(p.tables)), pointDB)
		a.limit(Limits{nearShare * f.Limits.PathDB, nearShare * f.Limits.SumDB})
		a.lazy = slices.Contains(s.core, false)
		s.workers = append(s.workers, a)
	}
	s.palette = s.used(f.Pick)
	s.take(f.Pick)
	return s
}

// longest marks the path with the most stages of each way: the others have most
// of their stages in common with it.
func (p *prepared) longest() []bool {
	at := slices.Repeat([]int{-1}, p.ways)
	for n, t := range p.paths {
		if k := at[t.Way]; k < 0 || len(t.Stages) > len(p.paths[k].Stages) {
			at[t.Way] = n
		}
	}
	out := make([]bool, len(p.paths))
	for n, t := range p.paths {
		out[n] = at[t.Way] == n
	}
	return out
}

// used is the palette of a pick.
func (s *reduction) used(pick []int) palette {
	p := newPalette(s.values)
	for i, k := range pick {
		for w, bits := range s.sets[i][k] {
			p[w] |= bits
		}
	}
	return p
}

// byUse lists the values in use, those of the fewest stages first.
func (s *reduction) byUse() []int {
	uses := make([]int, s.values)
	for i, k := range s.Pick {
		for _, v := range s.sets[i][k].list() {
			uses[v]++
		}
	}
	out := s.palette.list()
	slices.SortStableFunc(out, func(x, y int) int { return uses[x] - uses[y] })
	return out
}

// idle says that the search is of no use any more.
func (s *reduction) idle() bool { return s.useless != nil && s.useless() }

// first is the first of n changes that do, and n where none does.
func (s *reduction) first(n int, does func(a *arrangement, i int) bool) int {
	i := parallel.First(parallel.Workers(), n, func(worker, i int, idle func() bool) bool {
		a := s.workers[worker]
		a.idle = func() bool { return idle() || s.idle() }
		if s.idle() {
			return true
		}
		defer func() { a.idle = nil }()
		return does(a, i)
	})
	s.work += min(i+1, n) * len(s.Pick)
	return i
}

// measure makes the tables exact for a pick, with what that changes in its choices
// added to all others, and reports whether the pick is within the limits.
func (s *reduction) measure(pick []int) (exact []Errors, within bool, err error) {
	b, none := *s.p, make([]int, len(pick))
	b.tables, exact = make([]table, len(pick)), make([]Errors, len(pick))
	if err := parallel.Try(len(pick), func(i int) (err error) {
		exact[i], err = s.Exact(i, pick[i])
		b.tables[i].Table = Table{Choices: exact[i : i+1], Points: []float64{0}}
		return err
	}); err != nil {
		return nil, false, err
	}
	s.rebase(pick, exact)
	a := b.arrange(none, make([][]int, len(pick)), 0)
	a.limit(s.Limits)
	return exact, a.within(), nil
}

// rebase makes the tables exact for a pick.
func (s *reduction) rebase(pick []int, exact []Errors) {
	parallel.Each(len(pick), func(i int) {
		t := &s.p.tables[i]
		off := Errors{slices.Clone(exact[i].DB), slices.Clone(exact[i].Rad)}
		subtract(off.DB, t.Choices[pick[i]].DB)
		subtract(off.Rad, t.Choices[pick[i]].Rad)
		if !slices.ContainsFunc(off.DB, func(x float64) bool { return x != 0 }) {
			return
		}
		for _, c := range t.Choices {
			c.add(off)
		}
		for k, column := range t.column {
			for n := range column {
				column[n] += off.DB[k]
			}
		}
	})
}

// take takes a pick where the exact errors agree, and reports whether they do.
func (s *reduction) take(pick []int) bool {
	if _, m := s.agree(pick); m.where != nowhere {
		s.stay()
		return false
	}
	return true
}

// stay makes the tables exact for the pick again.
func (s *reduction) stay() {
	if s.exact != nil {
		s.rebase(s.Pick, s.exact)
	}
}

// agree makes the tables exact for a pick, arranges again where that shows it to
// miss the limits, and takes what keeps them. It returns the last pick and by how
// much that misses.
func (s *reduction) agree(pick []int) ([]int, miss) {
	for range agreements {
		exact, within, err := s.measure(pick)
		if err != nil {
			s.err = err
			return pick, miss{where: unbuildable}
		}
		if within {
			s.Pick, s.palette, s.exact = pick, s.used(pick), exact
			return pick, miss{}
		}
		p := s.used(pick)
		var m miss
		if pick, m = s.arranged(s.workers[0], pick, p, false); m.where != nowhere {
			pick, m = s.arranged(s.workers[0], pick, p, true)
		}
		if m.where != nowhere {
			return pick, m
		}
	}
	return pick, miss{atSums, scoreStep}
}

// dropOne takes one value out.
func (s *reduction) dropOne() bool {
	order := s.byUse()
	found := make([][]int, len(order))
	for from := 0; from < len(order) && s.work <= mostWork && !s.idle(); from++ {
		from += s.first(len(order)-from, func(a *arrangement, i int) bool {
			pick, m := s.arranged(a, s.Pick, s.palette.without(order[from+i]), false)
			found[from+i] = pick
			return m.where == nowhere
		})
		if s.idle() {
			return false // what was found may be half done
		}
		if from < len(order) && s.take(found[from]) {
			return true
		}
	}
	return false
}

// tried is a palette, and what can be made of it.
type tried struct {
	palette palette
	pick    []int
	miss
}

// try is the first of n palettes that misses the limits by little enough, or else the
// one that misses them least; no palette where none can be built.
func (s *reduction) try(n int, from []int, of func(i int) palette, enough func(miss) bool) tried {
	all := make([]tried, n)
	if i := s.first(n, func(a *arrangement, i int) bool {
		x := &all[i]
		x.palette = of(i)
		x.pick, x.miss = s.arranged(a, from, x.palette, false)
		if x.where != nowhere && x.where != unbuildable && x.db < nearby {
			x.pick, x.miss = s.arranged(a, x.pick, x.palette, true)
		}
		return enough(x.miss)
	}); i < n {
		return all[i]
	}
	best := tried{miss: miss{where: unbuildable}}
	for _, x := range all {
		if x.less(best.miss, scoreStep) {
			best = x
		}
	}
	return best
}

// swapOne takes out the value that is missed least, whatever that costs, and swaps
// values by chance until the limits are kept again.
func (s *reduction) swapOne() bool {
	order := s.palette.list()
	now := s.try(len(order), s.Pick, func(i int) palette { return s.palette.without(order[i]) }, func(miss) bool { return false })
	kept := make([]int, s.values) // until which swap a value stays in or out
	for n := 0; n < swaps && s.work <= mostWork && !s.idle() && now.palette != nil; n++ {
		if now.pick, now.miss = s.agree(now.pick); now.where == nowhere {
			return true
		}
		was := now
		changes := s.changes(was.palette, func(v int) bool { return kept[v] > n })
		now = s.try(min(len(changes), swapsTried), was.pick, func(i int) palette {
			p := was.palette.without(changes[i][0])
			p.add(changes[i][1])
			return p
		}, func(m miss) bool { return m.less(was.miss, gained) })
		if now.palette == nil {
			break
		}
		for v := range kept {
			if was.palette.has(v) != now.palette.has(v) {
				kept[v] = n + tabu
			}
		}
	}
	s.stay()
	return false
}

// changes are the swaps of a value of a palette for another one in random order,
// but for those that stay in or out.
func (s *reduction) changes(p palette, stays func(v int) bool) [][2]int {
	var out [][2]int
	for _, v := range p.list() {
		for x := range s.values {
			if !p.has(x) && !stays(v) && !stays(x) {
				out = append(out, [2]int{v, x})
			}
		}
	}
	for i := range out {
		k := i + s.dice.below(len(out)-i)
		out[i], out[k] = out[k], out[i]
	}
	return out
}

package assign

import "slices"

const (
	// mostRounds bounds the rounds over all pairs of stages.
	mostRounds = 12
	// watchRounds bounds how often paths that turn out worst are taken up.
	watchRounds = 6
	// shortList is how many choices a stage has while the search is wide.
	shortList = 30
	// disturbances is how often the best arrangement is disturbed, in disturbed stages
	// of one way, and improved again.
	disturbances, disturbed = 12, 3
)

// Evaluate is the plan of a pick.
func Evaluate(p Problem, pick []int) (Plan, error) {
	b, err := p.prepare()
	if err != nil {
		return Plan{}, err
	}
	return b.arrange(pick, make([][]int, len(pick)), p.PointDB).plan(), nil
}

// Search lowers the sum of the worst errors of all ways and of all pairs' sums, with a
// small share of what else speaks against a choice, from a pick on: no other pair of
// choices of two stages in one path makes it smaller. It is an iterated local search
// (Lourenço, Martin, Stützle, Handbook of Metaheuristics, 2003).
func Search(p Problem, pick []int) (Plan, error) {
	b, err := p.prepare()
	if err != nil {
		return Plan{}, err
	}
	a := b.arrange(pick, b.lists(), p.PointDB)
	a.idle = p.Idle
	a.search()
	return a.plan(), nil
}

// Settle lowers what else speaks against choices from a pick on, within limits, from
// which share is kept for rounding.
func Settle(p Problem, pick []int, limits Limits) (Plan, error) {
	const share = 1e-6
	b, err := p.prepare()
	if err != nil {
		return Plan{}, err
	}
	a := b.arrange(pick, b.lists(), p.PointDB)
	a.limit(Limits{limits.PathDB * (1 - share), limits.SumDB * (1 - share)})
	a.descend(mostRounds, nil)
	return a.plan(), nil
}

// lists are all choices of each stage.
func (p *prepared) lists() [][]int {
	lists := make([][]int, len(p.tables))
	for i, t := range p.tables {
		for k := range t.Choices {
			lists[i] = append(lists[i], k)
		}
	}
	return lists
}

// search improves with short lists, from the start and from disturbed results,
// and then with the whole ones.
func (a *arrangement) search() {
	whole := a.lists
	a.lists = make([][]int, len(whole))
	for i, list := range whole {
		a.lists[i] = list[:min(shortList, len(list))]
	}
	a.improve()
	var dice random
	for range disturbances {
		if len(a.p.paths) == 0 || a.useless() {
			break
		}
		cost, pick := a.cost, slices.Clone(a.pick)
		stages := slices.DeleteFunc(slices.Clone(a.p.paths[dice.below(len(a.p.paths))].Stages), func(s int) bool { return len(a.lists[s]) < 2 })
		for range min(disturbed, len(stages)) {
			s := stages[dice.below(len(stages))]
			a.pick[s] = a.lists[s][dice.below(len(a.lists[s]))]
		}
		a.moved(pick)
		a.improve()
		if a.cost > cost-scoreStep {
			was := slices.Clone(a.pick)
			copy(a.pick, pick)
			a.moved(was)
		}
	}
	a.lists = whole
	clear(a.tried)
	a.improve()
}

func (a *arrangement) useless() bool { return a.idle != nil && a.idle() }

// improve lowers the cost by changing two stages at a time until no pair of
// choices does.
func (a *arrangement) improve() {
	for range watchRounds {
		a.descend(mostRounds, nil)
		a.refresh()
		if !a.watchWorst() || a.useless() {
			return
		}
		clear(a.tried)
	}
}

// descend changes two stages at a time until no pair of choices lowers the cost, or
// until enough, where not nil, says so.
func (a *arrangement) descend(rounds int, enough func() bool) {
	pairs := a.pairs()
	for range rounds {
		changed := false
		for _, p := range pairs {
			if a.exchange(p[0], p[1]) {
				changed = true
			}
			if enough != nil && enough() || a.useless() {
				return
			}
		}
		if !changed {
			return
		}
	}
}

// pairs are the stages with a choice to make that have a watched path in common: those
// of different ways meet in a sum only, where the stages of one way at a time do. A
// stage that has none with another one moves by itself, paired with -1.
func (a *arrangement) pairs() [][2]int {
	var out [][2]int
	var moving []int
	for i, list := range a.lists {
		if len(list) > 1 {
			moving = append(moving, i)
		}
	}
	partnered := map[int]bool{}
	for n, i := range moving {
		for _, j := range moving[n+1:] {
			if a.together(i, j) {
				out = append(out, [2]int{i, j})
				partnered[i], partnered[j] = true, true
			}
		}
		if !partnered[i] {
			out = append(out, [2]int{i, -1})
		}
	}
	return out
}

// together reports whether two stages have a watched path in common.
func (a *arrangement) together(i, j int) bool {
	for n, t := range a.p.paths {
		if a.watched[n] && t.has[i] && t.has[j] {
			return true
		}
	}
	return false
}

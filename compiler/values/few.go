package values

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"bandwright/compiler/assign"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

const (
	// A stage brings so many sets of values to the search for few distinct ones:
	// poolOfValues of the stock, and poolOfOwn of those values alone that the
	// board has to begin with.
	poolOfValues, poolOfOwn = 500, 1000
	// mostSets is how many all stages may bring: they take 5 KB each.
	mostSets = 6e4
	// octaveDB (dB) is what a squared octave away from comfortable values is worth
	// among sets that keep the limits.
	octaveDB = 2e-5
	// settledPointDB (dB) is pointDB where no point is worth a limit.
	settledPointDB = pointDB * 1e-3
	// swingShare is how much further op-amps inside of a stage may swing, 2 dB.
	swingShare = 1.25
	// settled is how many candidates of each stage are measured with the real op-amp
	// at the end.
	settled = 8
	// passes is how often the search begins anew, as long as it finds fewer.
	passes = 3
)

// Few looks for a plan with as few distinct resistor and capacitor values as it can,
// with the topologies of a plan and no path and no sum worse than limits (dB, > 0).
// Where the plan itself keeps no such limits, it is returned as it is, and kept is
// false.
func Few(p Problem, from Plan, limits assign.Limits) (plan Plan, kept bool, err error) {
	if len(from.Candidates) != len(p.Stages) {
		return from, false, errors.New("the plan has not as many choices as the problem has stages")
	}
	if !(limits.PathDB > 0) || !(limits.SumDB > 0) {
		return from, false, errors.New("a limit has to be above 0 dB")
	}
	if path, sum := from.Worst(); path > limits.PathDB || sum > limits.SumDB {
		return from, false, nil
	}
	// A palette found has its own most exact sets, more than those that were looked
	// among to find it.
	plan = from
	for range passes {
		if p.useless() {
			break
		}
		was := count(plan)
		if plan, err = p.fewer(plan, from, limits); err != nil {
			return from, false, err
		}
		if count(plan) >= was {
			break
		}
	}
	return plan, true, nil
}

// count is how many different values a plan has.
func count(p Plan) int {
	r, c := p.Distinct()
	return r + c
}

// fewer is one pass from a plan, with op-amps that swing no further than swingShare
// allows from those of another one.
func (p *Problem) fewer(from, swings Plan, limits assign.Limits) (Plan, error) {
	var err error
	near := *p
	near.At = p.At.Bench.At(p.At.Hz)
	if near.Stages, err = p.pools(from, swings); err != nil {
		return from, err
	}
	q := near.blank(octaveDB)
	if err := parallel.Try(len(p.Stages), func(i int) error {
		if p.useless() {
			return errUseless
		}
		return near.At.Near(from.Candidates[i], near.Stages[i], tabulate(&q.Tables[i], near.Stages[i], (*stage.Candidate).Comfort))
	}); err != nil {
		return from, err
	}
	number(q.Tables, near.Stages)
	few := assign.Few{Limits: limits, Pick: make([]int, len(p.Stages)), Exact: func(i, k int) (e assign.Errors, err error) {
		err = near.At.Errors(near.Stages[i][k:k+1], func(_ int, db, rad []float64) { e = assign.Errors{DB: db, Rad: rad} })
		return e, err
	}}
	for i, x := range from.Candidates {
		few.Pick[i] = slices.IndexFunc(near.Stages[i], func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) })
	}
	pick, err := assign.Fewest(q, few)
	if err != nil {
		return from, err
	}
	return near.settle(q.Tables, pick, limits)
}

// pools lists the candidates that every stage of a plan brings.
func (p *Problem) pools(from, swings Plan) ([][]stage.Candidate, error) {
	bench := p.At.Bench
	// The values of the plan stay: the search begins with them.
	used := func(v float64) bool {
		return slices.ContainsFunc(from.Candidates, func(x stage.Candidate) bool { return slices.Contains(x.Values, v) })
	}
	thin, own := bench.With(bench.Stock.Coarser(used)), bench.With(bench.Stock.Only(used))
	share := math.Min(1, mostSets/float64((poolOfValues+poolOfOwn)*len(p.Stages)))
	out := make([][]stage.Candidate, len(p.Stages))
	err := parallel.Try(len(p.Stages), func(i int) (err error) {
		if p.useless() {
			return errUseless
		}
		x := from.Candidates[i]
		list := merged(thin.MostExact(x.Topology, x.Section, int(share*poolOfValues)), own.MostExact(x.Topology, x.Section, int(share*poolOfOwn)))
		if !slices.ContainsFunc(list, func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) }) {
			list = append(list, x)
		}
		out[i], err = quiet(bench, list, swings.Candidates[i])
		return err
	})
	return out, err
}

// merged are the candidates of two lists, each once, those with the smallest error
// first.
func merged(all, more []stage.Candidate) []stage.Candidate {
	out := slices.Concat(all, more)
	slices.SortStableFunc(out, func(x, y stage.Candidate) int {
		return cmp.Or(cmp.Compare(x.ErrorDB, y.ErrorDB), slices.Compare(x.Values, y.Values))
	})
	return slices.CompactFunc(out, func(x, y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) })
}

// quiet are the candidates whose op-amps swing no further than those of one of them
// do, or than their input: few values shall not cost headroom.
func quiet(bench *stage.Bench, all []stage.Candidate, like stage.Candidate) ([]stage.Candidate, error) {
	if like.Topology.OpAmps() < 2 {
		return all, nil
	}
	swings, err := bench.Swings(slices.Concat([]stage.Candidate{like}, all))
	if err != nil {
		return nil, err
	}
	most := math.Max(swings[0], 1) * swingShare
	var out []stage.Candidate
	for i, c := range all {
		if swings[i+1] <= most {
			out = append(out, c)
		}
	}
	return out, nil
}

// number numbers the values of all candidates: capacitors first, the largest first,
// then resistors, the smallest first.
func number(tables []assign.Table, stages [][]stage.Candidate) {
	var all []float64
	for _, list := range stages {
		for _, c := range list {
			all = append(all, c.Fitted()...)
		}
		slices.Sort(all)
		all = slices.Compact(all)
	}
	for i, list := range stages {
		for _, c := range list {
			values := c.Fitted()
			numbers := make([]int, len(values))
			for k, v := range values {
				numbers[k], _ = slices.BinarySearch(all, v)
			}
			tables[i].Values = append(tables[i].Values, numbers)
		}
	}
}

// settle arranges the stages once more with the responses of the real op-amp and
// with what else the values of a pick allow, the quietest that keeps the limits.
func (p *Problem) settle(tables []assign.Table, pick []int, limits assign.Limits) (Plan, error) {
	used := map[int]bool{}
	for i, k := range pick {
		for _, v := range tables[i].Values[k] {
			used[v] = true
		}
	}
	bench := p.At.Bench
	last := *p
	last.At, last.Stages = bench.At(p.At.Hz), make([][]stage.Candidate, len(pick))
	if err := parallel.Try(len(pick), func(i int) error {
		list := []stage.Candidate{p.Stages[i][pick[i]]}
		for n, values := range tables[i].Values {
			if n != pick[i] && len(list) < settled && !slices.ContainsFunc(values, func(v int) bool { return !used[v] }) {
				list = append(list, p.Stages[i][n])
			}
		}
		last.Stages[i] = list
		return bench.Measure(list)
	}); err != nil {
		return Plan{}, err
	}
	q, err := last.tables()
	if err != nil {
		return Plan{}, err
	}
	q.PointDB = settledPointDB
	plan, err := assign.Settle(q, make([]int, len(pick)), limits)
	return chosen(last.Stages, plan), err
}

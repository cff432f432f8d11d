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
	limit := within{Limits: limits, first: from}
	if limit.bounds, err = p.bounds(from); err != nil {
		return from, false, err
	}
	for range passes {

		if p.useless() {
			break
		}
		next, err := p.fewer(plan, limit)
		if err != nil {
			return from, false, err
		}
		if count(next) >= count(plan) {
			break
		}
		plan = next
	}
	return plan, true, nil
}

// count is how many different values a plan has.
func count(p Plan) int {
	r, c := p.Distinct()
	return r + c
}

// within is what a plan has to keep: limits of errors, and bounds on what it may cost more
// than the first one.
type within struct {
	assign.Limits
	first  Plan
	bounds *bounds
}

// fewer is one pass from a plan.
func (p *Problem) fewer(from Plan, limit within) (Plan, error) {
	first := limit.first
	var err error
	near := *p
	near.At = p.At.Bench.At(p.At.Hz)
	if near.Stages, err = p.pools(from, first); err != nil {
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
	prices := limit.bounds.price(near.Stages)
	few := assign.Few{Limits: limit.Limits, Pick: make([]int, len(p.Stages)), Kin: kin(from.Candidates), Costs: prices.of}
	for i, x := range from.Candidates {
		few.Pick[i] = slices.IndexFunc(near.Stages[i], func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) })
	}
	picks, err := assign.Fewest(q, few)
	if err = cmp.Or(err, prices.err()); err != nil {
		return from, err
	}
	for _, pick := range picks {
		plan, err := near.settle(q.Tables, pick, prices, limit.Limits)
		if err != nil {
			return from, err
		}
		if path, sum := plan.Worst(); path <= limit.PathDB && sum <= limit.SumDB && prices.within(pick) {
			return plan, nil
		}
	}
	return from, nil
}

// pools lists the candidates that every stage of a plan brings.
func (p *Problem) pools(from, first Plan) ([][]stage.Candidate, error) {
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
		out[i], err = bounded(bench, list, first.Candidates[i])
		if err == nil && !slices.ContainsFunc(out[i], func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) }) {
			out[i] = append(out[i], x)
		}
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
func (p *Problem) settle(tables []assign.Table, pick []int, prices *priced, limits assign.Limits) (Plan, error) {
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
			if n != pick[i] && len(list) < settled && !slices.ContainsFunc(values, func(v int) bool { return !used[v] }) && prices.noDearer(i, n, pick[i]) {
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

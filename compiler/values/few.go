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
	// firstShare of the limits is what the first pass may use up: what the real op-amp does is estimated
	// from the values that it begins with, of which few are left.
	firstShare = 0.95
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
	limit := within{Limits: limits, first: from, thin: p.At.Bench.With(p.At.Bench.Stock.Coarser(from.has))}
	if limit.bounds, err = p.bounds(from); err != nil {
		return from, false, err
	}
	for pass := range passes {
		if p.useless() {
			break
		}
		share := 1.0
		if pass == 0 {
			share = firstShare
		}
		next, kept, err := p.fewer(plan, limit, share)
		if err != nil {
			return from, false, err
		}
		if !kept || pass > 0 && p.count(next) >= p.count(plan) {
			break
		}
		plan = next
	}
	return plan, true, nil
}

// has reports whether a plan has a value.
func (p *Plan) has(v float64) bool {
	return slices.ContainsFunc(p.Candidates, func(x stage.Candidate) bool { return slices.Contains(x.Values, v) })
}

// count is how many different values a plan has, those that are in use anyway among them.
func (p *Problem) count(plan Plan) int {
	seen := map[float64]bool{}
	for _, v := range p.InUse {
		seen[v] = true
	}
	for s, c := range plan.Candidates {
		for _, v := range p.fitted(s, c) {
			seen[v] = true
		}
	}
	return len(seen)
}

// within is what a plan has to keep: limits of errors, and bounds on what it may cost more
// than the first one.
type within struct {
	assign.Limits
	first  Plan
	thin   *stage.Bench // the stock thinned out, with all values of the first one
	bounds *bounds
}

// fewer is one pass from a plan.
func (p *Problem) fewer(from Plan, limit within, share float64) (Plan, bool, error) {
	var err error
	near := *p
	near.At = p.At.Bench.At(p.At.Hz[:min(len(p.At.Hz), assign.Looked)])
	near.Paths = cut(p.Paths, len(near.At.Hz))
	if near.Stages, err = p.pools(from, limit); err != nil {
		return from, false, err
	}
	q := near.blank(octaveDB)
	if err := parallel.Try(len(p.Stages), func(i int) error {
		if p.useless() {
			return errUseless
		}
		return near.At.Near(from.Candidates[i], near.Stages[i], tabulate(&q.Tables[i], near.Stages[i], (*stage.Candidate).Comfort))
	}); err != nil {
		return from, false, err
	}
	inUse := near.number(q.Tables)
	prices := limit.bounds.price(near.Stages, p.follows())
	few := assign.Few{Limits: assign.Limits{PathDB: share * limit.PathDB, SumDB: share * limit.SumDB}, Pick: make([]int, len(p.Stages)), Kin: kin(from.Candidates), Follows: p.follows(), InUse: inUse, Costs: prices.together}
	for i, x := range from.Candidates {
		few.Pick[i] = slices.IndexFunc(near.Stages[i], func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) })
	}
	picks, err := assign.Fewest(q, few)
	if err = cmp.Or(err, prices.err()); err != nil {
		return from, false, err
	}
	near.At, near.Paths = p.At, p.Paths
	var best Plan
	for n, pick := range picks {
		plan, err := near.settle(q.Tables, pick, prices, limit.Limits)
		if err != nil {
			return from, false, err
		}
		path, sum := plan.Worst()
		if path <= limit.PathDB && sum <= limit.SumDB && prices.within(pick) {
			return plan, true, nil
		}
		if n == 0 {
			best = plan
		}
	}
	return best, false, nil
}

// cut are paths at the first n frequencies.
func cut(paths []assign.Path, n int) []assign.Path {
	out := slices.Clone(paths)
	for i := range out {
		x := &out[i]
		x.Want = x.Want[:n]
		if x.Extra != nil {
			x.Extra = x.Extra[:n]
		}
		if x.PerRad != nil {
			x.PerRad = x.PerRad[:n]
		}
	}
	return out
}

// pools lists the candidates that every stage of a plan brings.
func (p *Problem) pools(from Plan, limit within) ([][]stage.Candidate, error) {
	first := limit.first
	bench := p.At.Bench
	thin, own := limit.thin, bench.With(bench.Stock.Only(from.has))
	share := math.Min(1, mostSets/float64((poolOfValues+poolOfOwn)*len(p.Stages)))
	out := make([][]stage.Candidate, len(p.Stages))
	shared := p.shared()
	err := parallel.Try(len(p.Stages), func(i int) (err error) {
		if p.useless() {
			return errUseless
		}
		x := from.Candidates[i]
		if shared[i] != nil {
			if shared[i].Stages[0] == i {
				err = shared[i].pool(out, from, first, thin, own, share)
			}
			return err
		}
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
// then resistors, the smallest first. It returns the numbers of those in use anyway.
func (p *Problem) number(tables []assign.Table) (inUse []int) {
	all := slices.Clone(p.InUse)
	known := map[float64]bool{}
	for i, list := range p.Stages {
		for _, c := range list {
			for _, v := range p.fitted(i, c) {
				if !known[v] {
					known[v] = true
					all = append(all, v)
				}
			}
		}
	}
	slices.Sort(all)
	all = slices.Compact(all)
	numbers := func(values []float64) []int {
		out := make([]int, len(values))
		for k, v := range values {
			out[k], _ = slices.BinarySearch(all, v)
		}
		return out
	}
	for i, list := range p.Stages {
		for _, c := range list {
			tables[i].Values = append(tables[i].Values, numbers(p.fitted(i, c)))
		}
	}
	return numbers(p.InUse)
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
	shared := p.shared()
	if err := parallel.Try(len(pick), func(i int) error {
		list := []stage.Candidate{p.Stages[i][pick[i]]}
		if shared[i] != nil {
			last.Stages[i] = list
			return bench.Measure(list)
		}
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

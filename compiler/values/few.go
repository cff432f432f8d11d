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
	// poolOfOwn of the palette alone that a pass looks among, and in the first one
	// poolOfValues of the stock.
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
	// sampled is how many more sets of values of a stage tell what the real op-amp does.
	sampled = 10
	// passes is how often the search begins anew at most, and patience how often in a row
	// without fewer values.
	passes, patience = 5, 2
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
	x := search{Problem: &p, Limits: limits, first: from, thin: p.At.Bench.With(p.At.Bench.Stock.Coarser(from.has))}
	if x.bounds, err = p.bounds(from); err != nil {
		return from, false, err
	}
	plan, stale := from, 0
	for x.pass = 0; x.pass < passes && stale < patience && !p.useless(); x.pass++ {
		next, kept, err := x.fewer(plan)
		if err != nil {
			return from, false, err
		}
		switch {
		case !kept:
			return plan, true, nil
		case x.pass > 0 && p.count(next) >= p.count(plan):
			stale++
		default:
			plan, stale = next, 0
		}
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

// search is what Few does: a pass after the other.
type search struct {
	*Problem
	// A plan has to keep limits of errors, and bounds on what it may cost more than the first one.
	assign.Limits
	bounds *bounds
	first  Plan
	thin   *stage.Bench // the stock thinned out, with all values of the first one
	pass   int
	// lines are what the latest pass ended with, each of which the next one goes on with, the
	// one with the fewest values first. With the real op-amp they need not be within the limits.
	lines []Plan
}

// fewer is one pass from a plan.
func (x *search) fewer(from Plan) (Plan, bool, error) {
	p := x.Problem
	var err error
	near := *p
	near.At = p.At.Bench.At(p.At.Hz[:min(len(p.At.Hz), assign.Looked)])
	near.Paths = cut(p.Paths, len(near.At.Hz))
	if near.Stages, err = x.pools(from); err != nil {
		return from, false, err
	}
	q := near.blank(octaveDB)
	if err := parallel.Try(len(p.Stages), func(i int) error {
		if p.useless() {
			return errUseless
		}
		return near.At.Near(x.sample(i, near.Stages[i], from), near.Stages[i], tabulate(&q.Tables[i], near.Stages[i], (*stage.Candidate).Comfort))
	}); err != nil {
		return from, false, err
	}
	share := 1.0
	if x.pass == 0 {
		share = firstShare
	}
	inUse := near.number(q.Tables)
	prices := x.bounds.price(near.Stages, p.follows())
	few := assign.Few{Limits: assign.Limits{PathDB: share * x.PathDB, SumDB: share * x.SumDB}, Pick: near.picked(from), Kin: kin(from.Candidates), Follows: p.follows(), InUse: inUse, Costs: prices.together}
	for _, line := range x.lines {
		few.Begin = append(few.Begin, near.picked(line))
	}
	picks, err := assign.Fewest(q, few)
	if err = cmp.Or(err, prices.err()); err != nil {
		return from, false, err
	}
	x.lines = nil
	for _, pick := range picks[:len(picks)-1] {
		x.lines = append(x.lines, chosen(near.Stages, assign.Plan{Pick: pick}))
	}
	near.At, near.Paths = p.At, p.Paths
	var best Plan
	for n, pick := range picks {
		plan, err := near.settle(q.Tables, pick, prices, x.Limits)
		if err != nil {
			return from, false, err
		}
		path, sum := plan.Worst()
		if path <= x.PathDB && sum <= x.SumDB && prices.within(pick) {
			return plan, true, nil
		}
		if n == 0 {
			best = plan
		}
	}
	return best, false, nil
}

// sample are candidates of a stage that what the real op-amp does is worked out of: those of a plan
// and of the lines, and some of all.
func (x *search) sample(i int, all []stage.Candidate, from Plan) []stage.Candidate {
	out := []stage.Candidate{from.Candidates[i]}
	for _, line := range x.lines {
		out = append(out, line.Candidates[i])
	}
	for n := range sampled {
		out = append(out, all[n*len(all)/sampled])
	}
	return out
}

// picked is a plan as choices of the candidates that the stages bring, which are among them.
func (p *Problem) picked(plan Plan) []int {
	out := make([]int, len(plan.Candidates))
	for i, x := range plan.Candidates {
		out[i] = slices.IndexFunc(p.Stages[i], func(y stage.Candidate) bool { return slices.Equal(x.Values, y.Values) })
	}
	return out
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

// pools lists the candidates that every stage brings, those of a plan and of the lines among them.
func (x *search) pools(from Plan) ([][]stage.Candidate, error) {
	p := x.Problem
	bench := p.At.Bench
	share := math.Min(1, mostSets/float64((poolOfValues+poolOfOwn)*len(p.Stages)))
	k := sources{thin: x.thin, own: bench.With(bench.Stock.Only(palette(&x.thin.Stock, from, x.lines, x.pass))), ofThin: int(share * poolOfValues), ofOwn: int(share * poolOfOwn)}
	k.known = append([]Plan{from}, x.lines...)
	out := make([][]stage.Candidate, len(p.Stages))
	shared := p.shared()
	err := parallel.Try(len(p.Stages), func(i int) (err error) {
		if p.useless() {
			return errUseless
		}
		if shared[i] != nil {
			if shared[i].Stages[0] == i {
				err = shared[i].pool(out, k, x.first)
			}
			return err
		}
		like := from.Candidates[i]
		list := k.own.MostExact(like.Topology, like.Section, k.ofOwn)
		if x.pass == 0 {
			list = merged(k.thin.MostExact(like.Topology, like.Section, k.ofThin), list)
		}
		out[i], err = bounded(bench, list, x.first.Candidates[i])
		for _, plan := range k.known {
			if y := plan.Candidates[i]; !slices.ContainsFunc(out[i], func(z stage.Candidate) bool { return slices.Equal(y.Values, z.Values) }) {
				out[i] = append(out[i], y)
			}
		}
		return err
	})
	return out, err
}

// sources are where candidates come from: two stocks with how many of each, and plans.
type sources struct {
	thin, own     *stage.Bench
	ofThin, ofOwn int
	known         []Plan
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

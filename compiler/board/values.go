package board

import (
	"cmp"
	"context"
	"math"
	"slices"

	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/stage"
	"bandwright/compiler/values"
	"bandwright/compiler/words"
)

const (
	// perOctave is the density of the frequencies that values are chosen at. It
	// decides only which values are taken: the board is judged by true maxima.
	perOctave = 12
	// pool is how many candidates are looked for, and mostCandidates how many of them
	// each stage brings to the joint choice.
	pool           = 160
	mostCandidates = 48
	// rounds is how often every way's values are chosen: in the second round the
	// values of all others are known.
	rounds = 2
	// consolidated is the share of the promises that few different values may use
	// up: the rest is for what the choice does not look at, true maxima between its
	// frequencies and settings beyond mostPaths.
	consolidated = 0.68
)

// newValue is what a value that no other stage has costs, in points of the score:
// a feeder or a drawer more is worth as much as eight parts. Where a chain would miss
// its limits with that the next one is tried. In the first round, where values of
// other ways are yet to come, firstValue stands for it, whose last one counts errors
// alone.
var (
	newValue   = [...]float64{8, 4, 2, 1}
	firstValue = [...]float64{2, 0}
)

// choice is a choice of values under way.
type choice struct {
	*judged
	lists  [][]stage.Candidate // of each stage
	chosen []*Chain            // whose values have been chosen
}

// chooseValues chooses the values of all stages: chain by chain the errors of
// stages in series are made to cancel, first those of the common stages, then
// those of each way behind them, with the sum of the way and its lower
// neighbour. What has been chosen stays.
func (b *Board) chooseValues(ctx context.Context, j Job, bench *stage.Bench) error {
	v := choice{judged: b.judged(j, bench, j.LimitDB, j.PhaseRad)}
	if len(v.stages) == 0 {
		return nil
	}
	v.look(v.grid(perOctave))
	var err error
	if v.lists, err = v.candidateLists(ctx, bench); err != nil {
		return err
	}
	var open []*Chain // with stages that are not held
	for _, c := range b.Chains() {
		if slices.ContainsFunc(c.Stages(), func(s *Stage) bool { return s.Role != InputStage && s.open(j, v.hz) }) {
			open = append(open, c)
		} else {
			v.chosen = append(v.chosen, c)
		}
	}
	progress.Say(ctx, "choosing values of "+words.Count(len(v.stages), "stage", "stages")+" of the board")
	for round := range rounds {
		for _, c := range open {
			if c == &b.Common && round > 0 {
				continue // every way has been made to fit the common stages
			}
			if err := v.choose(ctx, c); err != nil {
				return err
			}
		}
	}
	return nil
}

// candidateLists lists each stage's candidates: of one that stands its own values alone.
func (v *choice) candidateLists(ctx context.Context, bench *stage.Bench) ([][]stage.Candidate, error) {
	stages := v.stages
	// The largest first, so that no processor has one of them left at the end.
	order := make([]int, len(stages))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, k int) int {
		return cmp.Compare(len(stages[k].Topology.Template), len(stages[i].Topology.Template))
	})
	behind := v.board.behind()
	out := make([][]stage.Candidate, len(stages))
	err := parallel.Try(len(stages), func(i int) (err error) {
		if err := ctx.Err(); err != nil {
			return err
		}
		s := stages[order[i]]
		if !s.open(v.job, v.hz) {
			one := []stage.Candidate{s.Candidate}
			err = bench.Measure(one)
			s.Candidate, out[order[i]] = one[0], one
			return err
		}
		if s.list != nil {
			out[order[i]] = s.list
			return nil
		}
		list, _, err := bench.Candidates(s.Section, only(s.Topology), pool, behind[s])
		if calm := slices.DeleteFunc(slices.Clone(list), v.board.clips); len(calm) > 0 && !v.board.clips(s.Candidate) {
			list = calm // sharing values is worth no clipping
		}
		out[order[i]] = list
		return err
	})
	return out, err
}

// clips reports whether an op-amp in a stage clips where the input's level reaches the
// stage; what the chain makes of that on the way to it is not counted.
func (b *Board) clips(c stage.Candidate) bool { return c.Swing*b.peakV > b.OpAmp.SwingV }

// choose chooses the values of one chain: as few new ones, beside those that the
// other stages have, as its limits allow.
func (v *choice) choose(ctx context.Context, c *Chain) error {
	var mine []int
	for i, s := range v.stages {
		if s.Block == c.Block {
			mine = append(mine, i)
		}
	}
	if mine == nil {
		return nil
	}
	p := v.problem()
	v.add(&p, v.board.wayOf(c))
	used := v.used(c)
	prices := firstValue[:]
	if slices.Contains(v.chosen, c) {
		prices = newValue[:] // or else what was chosen before
	}
	plans, errs := make([]values.Plan, len(prices)), make([]error, len(prices))
	first := parallel.First(parallel.Ahead(ctx), len(prices), func(_, n int, idle func() bool) bool {
		p := p
		p.Idle = func() bool { return idle() || ctx.Err() != nil }
		p.Stages = slices.Clone(p.Stages)
		for _, i := range mine {
			most := mostForReuse
			if n == len(prices)-1 {
				most = math.Inf(1) // nothing else keeps the limits
			}
			p.Stages[i] = reusing(v.lists[i], used, prices[n], most)
		}
		if plans[n], errs[n] = values.Joint(p); errs[n] != nil {
			return true
		}
		path, sum := plans[n].Worst()
		return prices[n] == 0 || path <= consolidated*v.job.LimitDB && sum <= consolidated*v.job.SumLimitDB
	})
	if err := ctx.Err(); err != nil {
		return err
	}
	if first < len(prices) {
		if errs[first] != nil {
			return errs[first]
		}
		for _, i := range mine {
			s := v.stages[i]
			s.Candidate = plans[first].Candidates[i]
			s.Score -= prices[first] * float64(added(&s.Candidate, used))
		}
	}
	v.chosen = append(v.chosen, c)
	return c.share(v.bench)
}

// used are the values of the stages chosen so far, but for the chain's own, as
// stage.Candidate.Fitted has them.
func (v *choice) used(c *Chain) map[float64]bool {
	out := map[float64]bool{nearest(v.job.Spec.Resistors, usualOhm): true}
	for _, o := range v.chosen {
		if o == c {
			continue
		}
		for _, s := range o.Stages() {
			for _, x := range s.Fitted() {
				out[x] = true
			}
		}
	}
	return out
}

// added is how many different values a candidate has that are not among those used.
func added(c *stage.Candidate, used map[float64]bool) int {
	fresh := c.Fitted()
	slices.Sort(fresh)
	fresh = slices.DeleteFunc(slices.Compact(fresh), func(x float64) bool { return used[x] })
	return len(fresh)
}

// mostForReuse is how many points beside its error a stage may cost more than the best of
// its candidates for the sake of values that others have: half an op-amp, or a tenth of a
// way's noise.
const mostForReuse = 1.5

// reusing are the best candidates of a list where each new value costs points, of those that
// cost no more than most points beside their error above the best.
func reusing(list []stage.Candidate, used map[float64]bool, points, most float64) []stage.Candidate {
	least := math.Inf(1)
	for i := range list {
		least = math.Min(least, list[i].Points())
	}
	out := slices.DeleteFunc(slices.Clone(list), func(x stage.Candidate) bool { return x.Points() > least+most })
	for i := range out {
		out[i].Score += points * float64(added(&out[i], used))
	}
	slices.SortStableFunc(out, func(a, b stage.Candidate) int { return cmp.Compare(a.Score, b.Score) })
	return out[:min(len(out), mostCandidates)]
}

package discretize

import (
	"context"
	"math"
	"slices"
	"sort"

	"bandwright/biquad"
)

// Aims are what a realised system is to keep, and what it may cost.
type Aims struct {
	WayDB, SumDB float64 // largest errors of a way and of the sum, dB
	PhaseDeg     float64 // relative phase of neighbours at their crossover, degrees
	// OverlapDeg is the largest phase error of a way against the delayed
	// prototype where a neighbour is within 20 dB, degrees; 0 does not ask.
	OverlapDeg float64
	Extra      int // biquads beyond the prototype's that a way may have
}

// WayFit is one way of a realised system.
type WayFit struct {
	Sections     []biquad.Digital // Delta form, in the order to run them, the way's gain not included
	DelaySamples int              // to be run besides the sections
	Extra        int              // biquads beyond the prototype's sections
	OverlapDeg   float64          // largest phase error where a neighbour is within 20 dB
	Audit        Inspection
	relativeDeg  float64 // the larger relative phase at its crossovers
}

// SystemFit is a realised system of ways that sum.
type SystemFit struct {
	Ways []WayFit
	// TauS is the delay in seconds by which all ways, and so their sum, lag
	// the prototype.
	TauS float64
	// SumDB is the largest error of the sum in dB, at SumHz; PhaseDeg the
	// largest relative phase of neighbours at their crossover and SumPhaseDeg
	// that of the sum against the prototype delayed by TauS, in degrees. A
	// single way has the second for both.
	SumDB, SumHz, PhaseDeg, SumPhaseDeg float64
	// Spent is true where the bound on work ended the search for better.
	Spent bool
}

// WayDB is the largest error of a way.
func (s SystemFit) WayDB() float64 {
	e := 0.0
	for _, w := range s.Ways {
		e = max(e, w.Audit.WorstDB)
	}
	return e
}

// Keeps reports whether the system keeps goals and limits.
func (s SystemFit) Keeps(g Aims, l Limits) bool {
	return s.safe(l) && s.miss(g) <= 1
}

// OverlapDeg is the largest phase error of a way where it overlaps a
// neighbour.
func (s SystemFit) OverlapDeg() float64 {
	e := 0.0
	for _, w := range s.Ways {
		e = max(e, w.OverlapDeg)
	}
	return e
}

func (s SystemFit) safe(l Limits) bool {
	for _, w := range s.Ways {
		if !w.Audit.Keeps(l) {
			return false
		}
	}
	return true
}

// ranks orders results: the miss, after all that break a limit.
func (s SystemFit) ranks(g Aims) float64 {
	if !s.safe(Guarded) {
		return 1e6 + s.miss(g)
	}
	return s.miss(g)
}

// miss is the largest excess over a goal, as a ratio.
func (s SystemFit) miss(g Aims) float64 {
	m := max(s.SumDB/g.SumDB, s.PhaseDeg/g.PhaseDeg)
	for _, w := range s.Ways {
		m = max(m, w.miss(g))
	}
	return m
}

// miss is the way's own largest excess over a goal, as a ratio.
func (r WayFit) miss(g Aims) float64 {
	m := max(r.Audit.WorstDB/g.WayDB, r.relativeDeg/g.PhaseDeg)
	if g.OverlapDeg > 0 {
		m = max(m, r.OverlapDeg/g.OverlapDeg)
	}
	return m
}

// FitSystem realises a system of ways that sum at rateHz (Hz), all lagging the
// prototype by the same time: the ways' magnitudes, the relative phase of
// neighbours and the sum in one fit. A way's delay goes into whole samples as
// far as it can. An extra biquad is spent only on a way without which a goal
// is missed. Ways that do not respond at all
// stay out of the sum.
//
// Stages: magnitude fit of each way; for every τ of a scan the zeros whose
// flips bring each way's phase nearest; from the best few a joint fit, p-norm
// 2 to 32, the first norm that keeps the goals on the judge's dense grid; one
// more biquad where none does, from the best fit without it and from anew. Aims
// of zero ask for the best there is. Where ctx is cancelled the fit ends soon, with
// what it has.
func FitSystem(ctx context.Context, ways []Way, rateHz float64, band Band, goals Aims) SystemFit {
	var heard []Way
	for _, w := range ways {
		if w.heard() {
			heard = append(heard, w)
		}
	}
	out := SystemFit{}
	if len(heard) > 0 {
		out = fitHeard(ctx, heard, rateHz, band, goals)
	}
	for i, w := range ways {
		if !w.heard() {
			f := Magnitude(w.Sections, rateHz, band, 0)
			r := WayFit{Sections: f.Sections, DelaySamples: int(max(math.Round(w.DelayS*rateHz), 0)), Audit: f.Audit}
			out.Ways = slices.Insert(out.Ways, i, r)
		}
	}
	return out
}

// heard reports whether the way responds at all.
func (w Way) heard() bool {
	g := w.Gain
	for _, a := range w.Sections {
		g *= gain(a)
	}
	return g != 0
}

// fitHeard is FitSystem for ways that all respond.
func fitHeard(ctx context.Context, ways []Way, rateHz float64, band Band, goals Aims) SystemFit {
	for _, x := range []*float64{&goals.WayDB, &goals.SumDB, &goals.PhaseDeg} {
		*x = max(*x, finestGoal)
	}
	s := systemSearch{rateHz: rateHz, band: band, goals: goals, work: &effort{left: mostEffort, ctx: ctx}, judge: newSystemJudge(ways, rateHz, band)}
	for _, w := range ways {
		p := &wayStart{way: w, whole: int(max(math.Round(w.DelayS*rateHz), 0)), spots: spotsOf(w.Sections, rateHz, band)}
		p.fit(rateHz, band)
		s.ways = append(s.ways, p)
	}
	best := s.run(nil)
	for !best.Keeps(goals, Guarded) && s.work.left > 0 {
		longer, ways := s.lengthened(best)
		if ways == nil {
			break
		}
		best = longer
		for i := range s.ways {
			*s.ways[i] = ways[i]
		}
	}
	best.Spent = s.work.left <= 0
	return best.SystemFit
}

// lengthened is the best with one more biquad for the way that gains most by it,
// or for all that may, with the ways that it starts from: nil where none gains
// enough. The first that keeps the goals ends the search.
func (s *systemSearch) lengthened(best judgedModel) (longest judgedModel, found []wayStart) {
	order, all := costliest(best.SystemFit, s.ways, s.goals)
	var tries [][]int
	for _, i := range order {
		tries = append(tries, []int{i})
	}
	if len(all) > 1 {
		tries = append(tries, all)
	}
	old := copies(s.ways)
	for _, try := range tries {
		for _, i := range try {
			s.ways[i].extra++
			s.ways[i].fit(s.rateHz, s.band)
		}
		longer := s.run(best.model.lengthened(try))
		if better(longer.SystemFit, best.SystemFit, s.goals) && (found == nil || longer.ranks(s.goals) < longest.ranks(s.goals)) {
			longest, found = longer, copies(s.ways)
		}
		for i := range s.ways {
			*s.ways[i] = old[i]
		}
		if found != nil && longest.Keeps(s.goals, Guarded) {
			break
		}
	}
	return longest, found
}

func copies(ways []*wayStart) []wayStart {
	out := make([]wayStart, len(ways))
	for i, p := range ways {
		out[i] = *p
	}
	return out
}

// mostEffort bounds a joint fit, in units of rows × parameters² of a step: a
// four-way with LR8 and equalisers takes a quarter of it, and all of it a second
// or two. What is not within the goals by then is taken as it is.
const mostEffort = 2e9

// finestGoal stands for goals of zero, which nothing keeps and nothing can be
// weighed by.
const finestGoal = 1e-6

// better reports whether a is safe and clearly nearer to the goals than b, or
// b is not safe.
func better(a, b SystemFit, g Aims) bool {
	if !a.safe(Guarded) {
		return false
	}
	return !b.safe(Guarded) || a.Keeps(g, Guarded) || a.miss(g) < 0.7*b.miss(g)
}

// costliest are the ways that miss a goal and may have one more biquad, or all
// that may where only the sum misses, ordered by what it is likely to gain:
// those with a high-pass and so with all zeros taken first, then by the miss.
// all are the ways that may.
func costliest(s SystemFit, ways []*wayStart, g Aims) (order, all []int) {
	score := make([]float64, len(ways))
	for i, p := range ways {
		if p.extra == g.Extra {
			continue
		}
		all = append(all, i)
		zeros, poles := 0, 0
		for _, q := range p.ps {
			poles += 2
			if q.n[0] == 0 {
				zeros++
				if q.n[1] == 0 {
					zeros++
				}
			}
		}
		if score[i] = s.Ways[i].miss(g); score[i] > 1 {
			order = append(order, i)
		}
		if poles > 0 {
			score[i] += 10 * float64(zeros) / float64(poles)
		}
	}
	if len(order) == 0 {
		order = all
	}
	sort.SliceStable(order, func(i, j int) bool { return score[order[i]] > score[order[j]] })
	return order, all
}

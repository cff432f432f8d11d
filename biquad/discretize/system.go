package discretize

import (
	"math"
	"math/cmplx"
	"slices"
	"sort"

	"bandwright/biquad"
)

// Aims are what a realised system is to keep, and what it may cost.
type Aims struct {
	WayDB, SumDB float64 // largest errors of a way and of the sum, dB
	PhaseDeg     float64 // relative phase of neighbours at their crossover, degrees
	Extra        int     // biquads beyond the prototype's that a way may have
}

// Realised is one way of a realised system.
type Realised struct {
	Sections     []biquad.Digital // Delta form, in the order to run them, the way's gain not included
	DelaySamples int              // to be run besides the sections
	Extra        int              // biquads beyond the prototype's sections
	Audit        Inspection
}

// System is a realised system of ways that sum.
type System struct {
	Ways []Realised
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
func (s System) WayDB() float64 {
	e := 0.0
	for _, w := range s.Ways {
		e = math.Max(e, w.Audit.WorstDB)
	}
	return e
}

// Keeps reports whether the system keeps goals and limits.
func (s System) Keeps(g Aims, l Limits) bool {
	return s.safe(l) && s.WayDB() <= g.WayDB && s.SumDB <= g.SumDB && s.PhaseDeg <= g.PhaseDeg
}

func (s System) safe(l Limits) bool {
	for _, w := range s.Ways {
		if !w.Audit.Keeps(l) {
			return false
		}
	}
	return true
}

// ranks orders results: the miss, after all that break a limit.
func (s System) ranks(g Aims) float64 {
	if !s.safe(Guarded) {
		return 1e6 + s.miss(g)
	}
	return s.miss(g)
}

// miss is the largest excess over a goal, as a ratio.
func (s System) miss(g Aims) float64 {
	return math.Max(s.WayDB()/g.WayDB, math.Max(s.SumDB/g.SumDB, s.PhaseDeg/g.PhaseDeg))
}

// part is a way on its way through the stages.
type part struct {
	way    Way
	whole  int     // samples of the delay line
	lag    float64 // samples that the sections delay besides τ
	extra  int
	ps     []planar // magnitude fit, minimum-phase
	fs     []flip
	base   []float64   // phase error at the shared spots without τ
	turns  [][]float64 // of the flips there
	weight []float64
}

// Together realises a system of ways that sum at rateHz (Hz), all lagging the
// prototype by the same time: the ways' magnitudes, the relative phase of
// neighbours and the sum in one fit. A way's delay goes into whole samples as
// far as it can. An extra biquad is spent only on a way without which a goal
// is missed. Ways that do not respond at all
// stay out of the sum.
//
// Stages: magnitude fit of each way; for every τ of a scan the zeros whose
// flips bring each way's phase nearest; from the best few a joint fit, p-norm
// 2 to 32, the first norm that keeps the goals on the judge's dense grid; one
// more biquad where none does. Aims of zero ask for the best there is.
func Together(ways []Way, rateHz float64, band Band, goals Aims) System {
	var heard []Way
	for _, w := range ways {
		if w.heard() {
			heard = append(heard, w)
		}
	}
	out := System{}
	if len(heard) > 0 {
		out = sounding(heard, rateHz, band, goals)
	}
	for i, w := range ways {
		if !w.heard() {
			f := Magnitude(w.Sections, rateHz, band, 0)
			r := Realised{Sections: f.Sections, DelaySamples: int(math.Max(math.Round(w.DelayS*rateHz), 0)), Audit: f.Audit}
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

// sounding is Together for ways that all respond.
func sounding(ways []Way, rateHz float64, band Band, goals Aims) System {
	for _, x := range []*float64{&goals.WayDB, &goals.SumDB, &goals.PhaseDeg} {
		*x = math.Max(*x, finestGoal)
	}
	parts := make([]*part, len(ways))
	for i, w := range ways {
		p := &part{way: w}
		d := w.DelayS * rateHz
		p.whole = int(math.Max(math.Round(d), 0))
		p.lag = d - float64(p.whole)
		parts[i] = p
		p.start(rateHz, band)
	}
	work := &effort{left: mostEffort}
	best := settle(parts, rateHz, band, goals, work)
	for !best.Keeps(goals, Guarded) && work.left > 0 {
		// One more for the way that gains most by it, or for all that may.
		order := costliest(best, parts, goals)
		tries := [][]int{}
		for _, i := range order {
			tries = append(tries, []int{i})
		}
		if len(order) > 1 {
			tries = append(tries, order)
		}
		found := false
		for _, try := range tries {
			old := make([]part, len(parts))
			spent := 0
			for i, p := range parts {
				old[i] = *p
			}
			for _, i := range try {
				if p := parts[i]; p.extra < goals.Extra {
					p.extra++
					p.start(rateHz, band)
					spent++
				}
			}
			if spent == 0 {
				continue
			}
			if next := settle(parts, rateHz, band, goals, work); better(next, best, goals) {
				best, found = next, true
				break
			}
			for i, p := range parts {
				*p = old[i]
			}
		}
		if !found {
			break
		}
	}
	best.Spent = work.left <= 0
	return best
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
func better(a, b System, g Aims) bool {
	if !a.safe(Guarded) {
		return false
	}
	return !b.safe(Guarded) || a.Keeps(g, Guarded) || a.miss(g) < 0.7*b.miss(g)
}

// costliest orders the ways by what an extra biquad is likely to gain: those
// with a high-pass and so with all zeros taken first, then by error.
func costliest(s System, parts []*part, g Aims) []int {
	score := make([]float64, len(parts))
	order := make([]int, len(parts))
	for i, p := range parts {
		order[i] = i
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
		score[i] = s.Ways[i].Audit.WorstDB / g.WayDB
		if poles > 0 {
			score[i] += 10 * float64(zeros) / float64(poles)
		}
	}
	sort.SliceStable(order, func(i, j int) bool { return score[order[i]] > score[order[j]] })
	return order
}

// start makes the way's magnitude fit.
func (p *part) start(rateHz float64, band Band) {
	p.ps, _ = magnitude(p.way.Sections, rateHz, band, p.extra)
	p.fs = flips(p.ps)
}

// settle scans τ, fits from its best places and judges.
func settle(parts []*part, rateHz float64, band Band, goals Aims, work *effort) System {
	var ways []Way
	var lag []float64
	for _, p := range parts {
		ways = append(ways, p.way)
		lag = append(lag, p.lag)
	}
	w := weights{relative: goals.WayDB / goals.PhaseDeg, sum: goals.WayDB / goals.SumDB, sumPhase: sumPhaseWeight}
	if len(ways) == 1 {
		w.sumPhase = w.relative // nothing else holds the phase
	}
	s := newSumming(ways, lag, rateHz, band, w)
	for i, p := range parts {
		p.prepare(i, s)
	}
	places := starts(parts, s)
	fits := make([]*fitter, len(places))
	quick := func(i int) {
		if i < len(places) && fits[i] == nil {
			fits[i] = s.begin(places[i], parts)
			fits[i].effort = work
			fits[i].reduce(2, firstSteps)
			fits[i].reduce(4, jointSteps)
		}
	}
	for i := 0; i < rivals; i++ {
		quick(i)
	}
	if len(fits) > 1 && peak(fits[1].e) < 0.9*peak(fits[0].e) {
		fits[0], fits[1] = fits[1], fits[0]
		places[0], places[1] = places[1], places[0]
	}
	// The gentlest norm that keeps the goals is the best: a higher one leaves
	// alone whatever is smaller than the largest error, and what is left alone
	// wanders.
	var best System
	first := true
	for i := range places {
		quick(i)
		last := math.Inf(1)
		for round := 0; round < rounds; round++ {
			r := math.Inf(1)
			for k, p := range jointNorms {
				if k > 0 || round > 0 {
					fits[i].reduce(p, jointSteps)
				}
				now := judge(fits[i].m.(*chorus), parts, rateHz, band)
				r = math.Min(r, now.ranks(goals))
				if first || now.ranks(goals) < best.ranks(goals) {
					best, first = now, false
				}
				if best.Keeps(goals, Guarded) {
					return best
				}
			}
			if r > settled*last || work.left <= 0 {
				break
			}
			last = r
		}
		if work.left <= 0 {
			break
		}
	}
	if !best.safe(Guarded) {
		// The magnitude fits as they are, their zeros flipped: limits kept.
		if now := judge(s.begin(places[0], parts).m.(*chorus), parts, rateHz, band); now.ranks(goals) < best.ranks(goals) {
			best = now
		}
	}
	return best
}

// The norms of a joint fit after p = 2, the steps that each may take, and how
// many times they are run through before another start is tried.
var jointNorms = [...]int{4, 8, 16, 32}

const (
	firstSteps = 25
	jointSteps = 25
	rounds     = 4
	settled    = 0.97 // a round that gains less is the last
	rivals     = 2    // starts that are compared before one is pursued
	maxStarts  = 4
)

// place is a start: τ in samples and the flips of every way.
type place struct {
	tau, cost float64
	chosen    [][]bool
}

// sumPhaseWeight is what a degree of the sum's phase is worth in decibels of a
// way: little, as the ear forgives slow turns that all ways share, but enough
// to give τ a meaning.
const sumPhaseWeight = 0.01

// starts are the best places of a scan of τ, no two with the same flips.
func starts(parts []*part, s *summing) []place {
	var scan []place
	for tau := firstTau; tau <= lastTau; tau += tauStep {
		pl := place{tau: tau}
		for _, p := range parts {
			base := make([]float64, len(p.base))
			for q, j := range s.shared {
				base[q] = p.base[q] + tau*j.turn
			}
			c, cost := bestFlips(base, p.weight, p.turns)
			pl.chosen = append(pl.chosen, c)
			pl.cost += cost
		}
		scan = append(scan, pl)
	}
	sort.SliceStable(scan, func(i, j int) bool { return scan[i].cost < scan[j].cost })
	var out []place
	for _, pl := range scan {
		known := false
		for _, o := range out {
			known = known || same(o.chosen, pl.chosen)
		}
		if !known && len(out) < maxStarts {
			out = append(out, pl)
		}
	}
	return out
}

func same(a, b [][]bool) bool {
	for i := range a {
		if !slices.Equal(a[i], b[i]) {
			return false
		}
	}
	return true
}

// The scan of τ, in samples.
const (
	firstTau = -1.0
	lastTau  = 4.0
	tauStep  = 0.25
)

// begin is the fit that starts at a place.
func (s *summing) begin(st place, parts []*part) *fitter {
	var vs []*voice
	least := make([]float64, len(parts))
	for i, p := range parts {
		v := voiceOf(flippedBy(p.ps, p.fs, st.chosen[i]), loudest(s.ways[i]))
		least[i] = leastMargin * v.margin()
		vs = append(vs, v)
	}
	c := chorusOf(vs, st.tau)
	s.span = c.off
	return newFitter(c, s, func(m model) bool {
		for i, v := range m.(*chorus).ways {
			if v.margin() < least[i] {
				return false
			}
		}
		return true
	})
}

// leastMargin is how far a joint fit may lower the pole margin of the
// magnitude fit that it starts from.
const leastMargin = 0.05

// prepare fills the phase errors and flips of way i at the shared spots.
func (p *part) prepare(i int, s *summing) {
	v := voiceOf(p.ps, 1)
	p.base = make([]float64, len(s.shared))
	p.weight = make([]float64, len(s.shared))
	last := 0.0
	for q, j := range s.shared {
		x := angle(v.at(j.v, nil, nil)*complex(s.gain[i], 0), j.target[i])
		if q > 0 {
			x -= 2 * math.Pi * math.Round((x-last)/(2*math.Pi))
		}
		p.base[q], last = x, x
		w := s.weigh.sumPhase * cmplx.Abs(j.target[i]) / (cmplx.Abs(j.sum) + 1e-30)
		w = math.Min(w, s.weigh.sumPhase)
		if i > 0 {
			w = math.Max(w, s.weigh.relative*j.overlap[i-1])
		}
		if i < len(j.overlap) {
			w = math.Max(w, s.weigh.relative*j.overlap[i])
		}
		p.weight[q] = w * w
	}
	p.turns = nil
	for _, f := range p.fs {
		t := make([]float64, len(s.shared))
		for q, j := range s.shared {
			t[q] = f.turn(p.ps, j.v)
		}
		p.turns = append(p.turns, t)
	}
}

// judge audits a fitted system on a dense grid of its own.
func judge(c *chorus, parts []*part, rateHz float64, band Band) System {
	out := System{TauS: c.tau / rateHz}
	var ways []Way
	for i, p := range parts {
		ps := c.ways[i].planars()
		arranged(ps, loudest(grid(p.way.Sections, rateHz, band)))
		r := Realised{Sections: digital(ps), DelaySamples: p.whole, Extra: p.extra}
		r.Audit = Inspect(p.way.Sections, r.Sections, rateHz, band)
		out.Ways = append(out.Ways, r)
		ways = append(ways, p.way)
	}
	out.measure(ways, rateHz, band)
	return out
}

// measure fills in what concerns more than one way.
func (s *System) measure(ways []Way, rateHz float64, band Band) {
	top := math.Min(band.HighHz, 0.499*rateHz)
	at := func(hz float64) (have, want []complex128, sum, ideal complex128, size float64) {
		pt := biquad.PointAt(hz, rateHz)
		for i, w := range ways {
			h := complex(w.Gain, 0) * biquad.Delay(hz, float64(s.Ways[i].DelaySamples)/rateHz-s.TauS)
			for _, d := range s.Ways[i].Sections {
				h *= d.At(pt)
			}
			t := w.at(hz)
			have, want = append(have, h), append(want, t)
			sum += h
			ideal += t
			size += cmplx.Abs(t)
		}
		return
	}
	s.SumDB, s.PhaseDeg, s.SumPhaseDeg = 0, 0, 0
	const perDecade = 200
	n := int(perDecade * math.Log10(top/band.LowHz))
	for i := 0; i <= n; i++ {
		hz := band.LowHz * math.Exp2(float64(i)/float64(n)*math.Log2(top/band.LowHz))
		_, _, sum, ideal, size := at(hz)
		if clear := cmplx.Abs(ideal) / size; !(clear > clearEnough) {
			continue
		}
		if e := math.Abs(biquad.DB(sum) - biquad.DB(ideal)); e > s.SumDB {
			s.SumDB, s.SumHz = e, hz
		}
		s.SumPhaseDeg = math.Max(s.SumPhaseDeg, degrees*math.Abs(angle(sum, ideal)))
	}
	if len(ways) == 1 {
		s.PhaseDeg = s.SumPhaseDeg
	}
	for i := 1; i < len(ways); i++ {
		for _, x := range crossovers(ways[i-1:i+1], band.LowHz, top) {
			have, want, _, _, _ := at(x)
			d := angle(have[i], want[i]) - angle(have[i-1], want[i-1])
			d -= 2 * math.Pi * math.Round(d/(2*math.Pi))
			s.PhaseDeg = math.Max(s.PhaseDeg, degrees*math.Abs(d))
		}
	}
}

// clearEnough is how large the ideal sum is, relative to the ways' sizes, where
// its error counts: in a deep cancellation decibels mean nothing.
const clearEnough = 0.1

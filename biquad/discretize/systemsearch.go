package discretize

import (
	"math"
	"math/cmplx"
	"slices"
	"sort"
)

// systemSearch looks for the best system of ways that all respond.
type systemSearch struct {
	ways   []*wayStart
	rateHz float64
	band   Band
	goals  Aims
	work   *effort
	judge  *systemJudge
}

// wayStart is a way with its magnitude fit, from which joint fits start, and what
// the flips of its zeros do to its phase.
type wayStart struct {
	way    Way
	whole  int // samples of the delay line
	extra  int // biquads beyond the prototype's
	spots  levels
	ps     []planar // magnitude fit, minimum-phase
	fs     []flip
	base   []float64   // phase error at the shared spots without τ
	turns  [][]float64 // of the flips there
	weight []float64
}

// fit makes the way's magnitude fit.
func (p *wayStart) fit(rateHz float64, band Band) {
	p.ps, _ = magnitude(p.way.Sections, rateHz, band, p.extra)
	p.fs = flips(p.ps)
}

// judgedModel is a system with its model.
type judgedModel struct {
	SystemFit
	model *systemModel
}

// run scans τ, fits from its best places and from the seeds, and judges.
func (s *systemSearch) run(seeds []*systemModel) judgedModel {
	problem := newSystemProblem(s.ways, s.rateHz, s.band, s.weights())
	for i, p := range s.ways {
		p.prepare(i, problem)
	}
	var from []*systemModel
	for _, pl := range starts(s.ways, problem) {
		from = append(from, problem.begin(pl, s.ways))
	}
	safest, first := from[0], min(rivals, len(from))
	from = slices.Insert(from, first, seeds...)
	first += len(seeds)

	r := &systemRun{systemSearch: s, problem: problem}
	// A system of which one step would take all the work there is, and its rows
	// as much memory, has its magnitude fits as they are, their zeros flipped.
	if n := float64(from[0].size()); n*n*float64(problem.total) > mostEffort {
		s.work.left = 0
		for _, c := range from {
			r.miss(c)
		}
		return r.best
	}
	if c := r.pursueAll(from[:first], from[first:]); c != nil {
		return judgedModel{s.judge.judge(c, s.ways), c}
	}
	if !r.best.safe(Guarded) {
		r.miss(safest) // the magnitude fits as they are, their zeros flipped: limits kept
	}
	return r.best
}

// weights follow from the goals.
func (s *systemSearch) weights() weights {
	g := s.goals
	w := weights{relative: g.WayDB / g.PhaseDeg, sum: g.WayDB / g.SumDB, sumPhase: sumPhaseWeight}
	if g.OverlapDeg > 0 {
		w.own = g.WayDB / g.OverlapDeg
	}
	if len(s.ways) == 1 {
		w.sumPhase = w.relative // nothing else holds the phase
	}
	return w
}

// systemRun is one run of a search.
type systemRun struct {
	*systemSearch
	problem *systemProblem
	best    judgedModel
}

// miss judges a model and is how far it misses the goals: at most 1 where it
// keeps them. The best of a run is remembered.
func (r *systemRun) miss(c *systemModel) float64 {
	now := r.judge.judge(c, r.ways)
	x := now.ranks(r.goals)
	if r.best.model == nil || x < r.best.ranks(r.goals) {
		r.best = judgedModel{now, c}
	}
	return x
}

// pursueAll fits from the first starts, then pursues the most promising one after
// another until one keeps the goals; then the same from the later ones. It
// returns the model that keeps the goals, or nil.
func (r *systemRun) pursueAll(first, later []*systemModel) *systemModel {
	var open []*fitter
	begin := func(from []*systemModel) {
		for _, c := range from {
			if r.work.left <= 0 && len(open) > 0 {
				return
			}
			f := r.problem.fitterOf(c)
			f.effort, f.bends, f.patience = r.work, true, patience
			f.reduce(2, firstSteps)
			f.reduce(4, firstSteps)
			open = append(open, f)
		}
	}
	begin(first)
	var done []float64 // errors of starts that have been pursued
	for len(open) > 0 && len(done) < maxPursued && (len(done) == 0 || r.work.left > 0) {
		k := 0
		for i, f := range open {
			// Only what is clearly ahead goes first: small edits must not swap.
			if peak(f.e) < 0.9*peak(open[k].e) {
				k = i
			}
		}
		f := open[k]
		open = slices.Delete(open, k, k+1)
		e := peak(f.e)
		if !slices.ContainsFunc(done, func(d float64) bool { return math.Abs(d-e) < sameBasin*e }) {
			if c := r.pursue(f); c != nil {
				return c
			}
			done = append(done, e)
		}
		if len(open) == 0 {
			begin(later)
			later = nil
		}
	}
	return nil
}

// pursue runs a fit through the norms until one keeps the goals, or a round no
// longer helps: then it returns nil. The gentlest norm that keeps the goals is
// the best: a higher one leaves alone whatever is smaller than the largest
// error, and what is left alone wanders. Between the last norm that misses and
// the first that keeps, the nearest to the former that just keeps is taken, so
// that a small edit which makes another norm the first moves little.
func (r *systemRun) pursue(f *fitter) *systemModel {
	last := math.Inf(1)
	var before *systemModel
	for round := range rounds {
		least := math.Inf(1)
		for k, p := range jointNorms {
			steps := jointSteps
			if round+k == 0 {
				steps = longSteps
			}
			f.reduce(p, steps)
			now := f.m.(*systemModel)
			x := r.miss(now)
			if x <= 1 {
				return r.justKeeps(before, now)
			}
			least, before = min(least, x), now
		}
		if least > settled*last || r.work.left <= 0 {
			break
		}
		last = least
	}
	return nil
}

// justKeeps is the model between one that misses, or nil, and one that keeps
// that just keeps.
func (r *systemRun) justKeeps(misses, keeps *systemModel) *systemModel {
	if misses == nil {
		return keeps
	}
	x := keeps.minus(misses)
	step := make([]float64, len(x))
	from := 0.0
	out := keeps
	for to := 1.0; to-from > justEnough; {
		t := (from + to) / 2
		for i := range x {
			step[i] = t * x[i]
		}
		if c := misses.moved(step).(*systemModel); r.miss(c) <= 1 {
			to, out = t, c
		} else {
			from = t
		}
	}
	return out
}

// The norms of a joint fit after p = 2, the steps that each may take, and how
// many times they are run through before another start is tried.
var jointNorms = [...]int{4, 8, 16, 32}

const (
	firstSteps = 15
	longSteps  = 100
	jointSteps = 50
	rounds     = 4
	patience   = 5    // slow steps in a row that end a norm
	settled    = 0.9  // a round that gains less is the last
	rivals     = 2    // starts of the scan that are compared before one is pursued
	maxStarts  = 4    // and all that there are
	maxPursued = 6    // starts that are pursued
	sameBasin  = 1e-3 // relative difference of errors from which on they are two

	justEnough = 1.0 / 64 // of the way between two norms
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
func starts(ways []*wayStart, s *systemProblem) []place {
	var scan []place
	for tau := firstTau; tau <= lastTau; tau += tauStep {
		pl := place{tau: tau}
		for _, p := range ways {
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

// begin is the model at a place of the scan.
func (s *systemProblem) begin(st place, ways []*wayStart) *systemModel {
	var vs []*wayModel
	for i, p := range ways {
		vs = append(vs, wayModelOf(flippedBy(p.ps, p.fs, st.chosen[i]), loudest(s.ways[i])))
	}
	return systemModelOf(vs, st.tau)
}

// fitterOf is a fit that starts at a model.
func (s *systemProblem) fitterOf(c *systemModel) *fitter {
	own := *s
	own.reaches(c.off)
	least := make([]float64, len(c.ways))
	for i, v := range c.ways {
		least[i] = leastMargin * v.margin()
	}
	return newFitter(c, &own, func(m model) bool {
		for i, v := range m.(*systemModel).ways {
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
func (p *wayStart) prepare(i int, s *systemProblem) {
	v := wayModelOf(p.ps, 1)
	p.base = make([]float64, len(s.shared))
	p.weight = make([]float64, len(s.shared))
	last := 0.0
	for q, j := range s.shared {
		x := angle(v.at(j.v, nil, nil)*j.line[i], j.target[i])
		if q > 0 {
			x -= 2 * math.Pi * math.Round((x-last)/(2*math.Pi))
		}
		p.base[q], last = x, x
		w := s.weigh.sumPhase * cmplx.Abs(j.target[i]) / (cmplx.Abs(j.ideal) + 1e-30)
		w = min(w, s.weigh.sumPhase)
		if i > 0 {
			w = max(w, s.weigh.relative*j.overlap[i-1])
		}
		if i < len(j.overlap) {
			w = max(w, s.weigh.relative*j.overlap[i])
		}
		w = max(w, s.weigh.own*j.own[i])
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

package discretize

import (
	"math"
	"math/cmplx"
	"slices"
	"sort"
)

// settle scans τ, fits from its best places and from the seeds, and judges. It
// returns the best system with its model.
func settle(parts []*part, rateHz float64, band Band, goals Aims, work *effort, seeds []*systemModel) (SystemFit, *systemModel) {
	var ways []Way
	var whole []int
	for _, p := range parts {
		ways = append(ways, p.way)
		whole = append(whole, p.whole)
	}
	w := weights{relative: goals.WayDB / goals.PhaseDeg, sum: goals.WayDB / goals.SumDB, sumPhase: sumPhaseWeight}
	if goals.OverlapDeg > 0 {
		w.own = goals.WayDB / goals.OverlapDeg
	}
	if len(ways) == 1 {
		w.sumPhase = w.relative // nothing else holds the phase
	}
	s := newSystemProblem(ways, whole, rateHz, band, w)
	for i, p := range parts {
		p.prepare(i, s)
	}
	var from []*systemModel
	for _, pl := range starts(parts, s) {
		from = append(from, s.begin(pl, parts))
	}
	safest := from[0]
	first := min(rivals, len(from))
	from = slices.Insert(from, first, seeds...)
	first += len(seeds)

	var best SystemFit
	var model *systemModel
	judged := func(c *systemModel) float64 {
		now := judge(c, parts, rateHz, band)
		r := now.ranks(goals)
		if model == nil || r < best.ranks(goals) {
			best, model = now, c
		}
		return r
	}
	// A system of which one step would take all the work there is, and its rows
	// as much memory, has its magnitude fits as they are, their zeros flipped.
	if n := float64(from[0].size()); n*n*float64(s.total) > mostEffort {
		work.left = 0
		for _, c := range from {
			judged(c)
		}
		return best, model
	}
	var open []*fitter
	begin := func(c *systemModel) {
		if work.left <= 0 && len(open) > 0 {
			return
		}
		f := s.fitterOf(c)
		f.effort, f.bends = work, true
		f.reduce(2, firstSteps)
		f.reduce(4, firstSteps)
		open = append(open, f)
	}
	for _, c := range from[:first] {
		begin(c)
	}
	var done []float64 // errors of starts that have been pursued
	for len(open) > 0 && len(done) < maxPursued && (len(done) == 0 || work.left > 0) {
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
		known := false
		for _, d := range done {
			known = known || math.Abs(d-e) < sameBasin*e
		}
		if !known {
			if c := pursue(f, judged, work); c != nil {
				return judge(c, parts, rateHz, band), c
			}
			done = append(done, e)
		}
		if len(open) == 0 {
			for _, c := range from[first:] {
				begin(c)
			}
			first = len(from)
		}
	}
	if !best.safe(Guarded) {
		judged(safest) // the magnitude fits as they are, their zeros flipped: limits kept
	}
	return best, model
}

// pursue runs a fit through the norms until one keeps the goals, or a round no
// longer helps: then it returns nil. judged is the excess over the goals as a
// ratio. The gentlest norm that keeps the goals is the best: a higher one leaves
// alone whatever is smaller than the largest error, and what is left alone
// wanders. Between the last norm that misses and the first that keeps, the
// nearest to the former that just keeps is taken, so that a small edit which
// makes another norm the first moves little.
func pursue(f *fitter, judged func(*systemModel) float64, work *effort) *systemModel {
	last := math.Inf(1)
	var before *systemModel
	for round := 0; round < rounds; round++ {
		r := math.Inf(1)
		for k, p := range jointNorms {
			steps := jointSteps
			if round+k == 0 {
				steps = longSteps
			}
			f.reduce(p, steps)
			now := f.m.(*systemModel)
			x := judged(now)
			if x <= 1 {
				return justKeeps(before, now, judged)
			}
			r, before = math.Min(r, x), now
		}
		if r > settled*last || work.left <= 0 {
			break
		}
		last = r
	}
	return nil
}

// justKeeps is the model between one that misses, or nil, and one that keeps
// that just keeps.
func justKeeps(misses, keeps *systemModel, judged func(*systemModel) float64) *systemModel {
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
		if c := misses.moved(step).(*systemModel); judged(c) <= 1 {
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
func starts(parts []*part, s *systemProblem) []place {
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

// begin is the model at a place of the scan.
func (s *systemProblem) begin(st place, parts []*part) *systemModel {
	var vs []*wayModel
	for i, p := range parts {
		vs = append(vs, wayModelOf(flippedBy(p.ps, p.fs, st.chosen[i]), loudest(s.ways[i])))
	}
	return systemModelOf(vs, st.tau)
}

// fitterOf is a fit that starts at a model.
func (s *systemProblem) fitterOf(c *systemModel) *fitter {
	own := *s
	own.span = c.off
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
func (p *part) prepare(i int, s *systemProblem) {
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
		w := s.weigh.sumPhase * cmplx.Abs(j.target[i]) / (cmplx.Abs(j.sum) + 1e-30)
		w = math.Min(w, s.weigh.sumPhase)
		if i > 0 {
			w = math.Max(w, s.weigh.relative*j.overlap[i-1])
		}
		if i < len(j.overlap) {
			w = math.Max(w, s.weigh.relative*j.overlap[i])
		}
		w = math.Max(w, s.weigh.own*j.own[i])
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

package values

import (
	"math"
	"slices"
	"sync/atomic"

	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

// What few values may cost, against the plan without them.
const (
	// mostNoise is the power of each path's noise: 1 dB more is hardly told apart by ear.
	mostNoise = 1.2589
	// mostOffset is the DC voltage of each path: a fifth more, less than op-amps of one
	// type differ by. leastOffsetV (V) is too little to matter, whatever it was.
	mostOffset, leastOffsetV = 1.2, 1e-3
	// mostCapacitance is that of all capacitors together: a fifth more in space.
	mostCapacitance = 1.2
	// swingShare is how much further op-amps inside of a stage may swing, 2 dB.
	swingShare = 1.25
	// ownMoreDB (dB) is how much larger a stage's own error may be. Errors of stages in
	// series cancel, but a stage that is measured by itself shall look like what it is
	// asked to be, and more than what parts of 1 and 2 % make of it anyway is too much.
	ownMoreDB = 0.4
)

// bounds are what few values may cost, with what candidates do.
type bounds struct {
	problem *Problem
	follows []int
	adders  []*stage.Adder // of each stage, for the paths it is in
	in      [][]int        // the paths that a stage is in
	paths   int
	noiseV2 []float64 // what each path may have
	offsetV []float64
	farad   float64 // what all stages may have
}

// bounds are those of the problem against a plan.
func (p *Problem) bounds(like Plan) (*bounds, error) {
	b := &bounds{problem: p, follows: p.follows(), adders: make([]*stage.Adder, len(p.Stages)), in: make([][]int, len(p.Stages)), paths: len(p.Paths),
		noiseV2: make([]float64, len(p.Paths)), offsetV: make([]float64, len(p.Paths))}
	behind := make([][]stage.Behind, len(p.Stages))
	for n, path := range p.Paths {
		for k, s := range path.Stages {
			later := path.Stages[k+1:]
			b.in[s] = append(b.in[s], n)
			behind[s] = append(behind[s], stage.Behind{Gain: func(hz float64) float64 { return gainOf(like, later, hz) }})
		}
	}
	adds := make([][]stage.Added, len(p.Stages))
	if err := parallel.Try(len(p.Stages), func(s int) (err error) {
		if b.adders[s], err = p.At.Bench.Adder(like.Candidates[s], behind[s]); err == nil {
			adds[s], err = b.adders[s].Adds(like.Candidates[s])
		}
		return err
	}); err != nil {
		return nil, err
	}
	for s, list := range adds {
		for i, n := range b.in[s] {
			b.noiseV2[n] += mostNoise * list[i].NoiseV2
			b.offsetV[n] += mostOffset * list[i].OffsetV
		}
		b.farad += mostCapacitance * b.capacitance(s, like.Candidates[s])
	}
	for n := range b.offsetV {
		b.offsetV[n] = math.Max(b.offsetV[n], leastOffsetV)
	}
	return b, nil
}

// capacitance (F) is what a stage has with a candidate: of the states of one stage the first has it.
func (b *bounds) capacitance(s int, c stage.Candidate) float64 {
	if b.follows[s] != s {
		return 0
	}
	sum := 0.0
	for _, v := range b.problem.fitted(s, c) {
		sum -= math.Min(v, 0)
	}
	return sum
}

// gainOf is the magnitude of the response of some stages of a plan.
func gainOf(plan Plan, stages []int, hz float64) float64 {
	g := complex(1, 0)
	for _, s := range stages {
		c := plan.Candidates[s]
		g *= complex(c.Level, 0) * c.Section.At(2*math.Pi*hz)
	}
	return math.Hypot(real(g), imag(g))
}

// costs are the shares that a candidate of a stage uses up: of every path's noise, of its
// DC, and of the capacitance.
func (b *bounds) costs(s int, c stage.Candidate) ([]float64, error) {
	out := make([]float64, 2*b.paths+1)
	list, err := b.adders[s].Adds(c)
	if err != nil {
		return nil, err
	}
	for i, n := range b.in[s] {
		if b.noiseV2[n] > 0 {
			out[n] = list[i].NoiseV2 / b.noiseV2[n]
		}
		out[b.paths+n] = list[i].OffsetV / b.offsetV[n]
	}
	if b.farad > 0 {
		out[2*b.paths] = b.capacitance(s, c) / b.farad
	}
	return out, nil
}

// priced are the candidates of a problem's stages with their costs, worked out once where
// they are asked for.
type priced struct {
	bounds *bounds
	stages [][]stage.Candidate
	known  [][]atomic.Pointer[[]float64]
	led    [][]int // of each stage: those that follow it
	all    [][]atomic.Pointer[[]float64]
	failed atomic.Pointer[error]
}

func (b *bounds) price(stages [][]stage.Candidate, follows []int) *priced {
	p := &priced{bounds: b, stages: stages, led: make([][]int, len(stages)),
		known: make([][]atomic.Pointer[[]float64], len(stages)), all: make([][]atomic.Pointer[[]float64], len(stages))}
	for s, list := range stages {
		p.known[s], p.all[s] = make([]atomic.Pointer[[]float64], len(list)), make([]atomic.Pointer[[]float64], len(list))
		if n := follows[s]; n != s {
			p.led[n] = append(p.led[n], s)
		}
	}
	return p
}

// together are the costs of a choice of a stage and of all that follow it.
func (p *priced) together(s, choice int) []float64 {
	if p.led[s] == nil {
		return p.of(s, choice)
	}
	at := &p.all[s][choice]
	if known := at.Load(); known != nil {
		return *known
	}
	costs := slices.Clone(p.of(s, choice))
	for _, m := range p.led[s] {
		for i, x := range p.of(m, choice) {
			costs[i] += x
		}
	}
	at.Store(&costs)
	return costs
}

// of are the costs of a choice.
func (p *priced) of(s, choice int) []float64 {
	at := &p.known[s][choice]
	if known := at.Load(); known != nil {
		return *known
	}
	costs, err := p.bounds.costs(s, p.stages[s][choice])
	if err != nil {
		p.failed.Store(&err)
		costs = make([]float64, 2*p.bounds.paths+1)
	}
	at.Store(&costs)
	return costs
}

// err is what failed.
func (p *priced) err() error {
	if e := p.failed.Load(); e != nil {
		return *e
	}
	return nil
}

// within reports whether a pick keeps the bounds.
func (p *priced) within(pick []int) bool {
	sums := make([]float64, 2*p.bounds.paths+1)
	for s, k := range pick {
		for i, x := range p.of(s, k) {
			if sums[i] += x; sums[i] > 1 {
				return false
			}
		}
	}
	return true
}

// noDearer reports whether a choice of a stage costs no more than another one, of anything.
func (p *priced) noDearer(s, choice, than int) bool {
	known := p.of(s, than)
	for i, x := range p.of(s, choice) {
		if x > known[i] {
			return false
		}
	}
	return true
}

// bounded are the candidates whose own error, and whose op-amps' swing, are not much
// larger than those of one of them.
func bounded(bench *stage.Bench, all []stage.Candidate, like stage.Candidate) ([]stage.Candidate, error) {
	var near []stage.Candidate
	for _, c := range all {
		if c.ErrorDB <= like.ErrorDB+ownMoreDB {
			near = append(near, c)
		}
	}
	if like.Topology.OpAmps() < 2 || len(near) == 0 {
		return near, nil
	}
	// No further than those of one of them do, or than their input: few values shall not
	// cost headroom.
	swings, err := bench.Swings(append([]stage.Candidate{like}, near...))
	if err != nil {
		return nil, err
	}
	most := math.Max(swings[0], 1) * swingShare
	var out []stage.Candidate
	for i, c := range near {
		if swings[i+1] <= most {
			out = append(out, c)
		}
	}
	return out, nil
}

// kin numbers stages so that those of one topology and frequency have the same number:
// their errors look alike.
func kin(stages []stage.Candidate) []int {
	type kind struct {
		topology string
		w        float64
	}
	numbers := map[kind]int{}
	var out []int
	for _, c := range stages {
		w, _ := c.Section.Natural()
		k := kind{c.Topology.Name, w}
		if _, known := numbers[k]; !known {
			numbers[k] = len(numbers)
		}
		out = append(out, numbers[k])
	}
	return out
}

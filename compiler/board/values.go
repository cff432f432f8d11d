package board

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
	"bandwright/compiler/parts"
)

const (
	// perOctave is the density of the frequencies that values are chosen at. It
	// decides only which values are taken: the board is judged by true maxima.
	perOctave = 12
	// pool is how many candidates are looked for, and mostChoices how many of them
	// each stage brings to the joint choice.
	pool        = 160
	mostChoices = 48
	// rounds is how often every way's values are chosen: in the second round the
	// values of all others are known.
	rounds = 2
	// consolidated is the share of the promises that few different values may use
	// up: the rest is for what the choice does not look at, true maxima between its
	// frequencies and settings beyond mostPaths.
	consolidated = 0.68
	// nearDB is how near in level (dB) a neighbouring way is where phase matters, as
	// the promise has it.
	nearDB = 20
	// mostPaths is in how many combinations of settings a way is looked at while
	// values are chosen; a way with more is looked at in those of single choices.
	mostPaths = 16
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

// chooseValues chooses the values of all stages: chain by chain the errors of
// stages in series are made to cancel, first those of the common stages, then
// those of each way behind them, with the sum of the way and its lower
// neighbour. What has been chosen stays.
func (b *Board) chooseValues(j Job, bench *parts.Bench) error {
	v := b.values(j, perOctave)
	if len(v.stages) == 0 {
		return nil
	}
	var err error
	if v.lists, err = candidates(v.stages, bench); err != nil {
		return err
	}
	v.ask()
	for round := range rounds {
		for i, c := range b.Chains() {
			if i == 0 && round > 0 {
				continue // every way has been made to fit the common stages
			}
			if err := v.choose(c, bench); err != nil {
				return err
			}
		}
	}
	return nil
}

// values begins a choice of values: the stages that have one, and the frequencies.
func (b *Board) values(j Job, perOctave int) *values {
	v := &values{board: b, job: j, index: map[*Stage]int{}, limitDB: j.LimitDB, phaseRad: j.PhaseRad, wants: map[string][]complex128{}}
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			if s.Role != InputStage {
				v.index[s] = len(v.stages)
				v.stages = append(v.stages, s)
			}
		}
	}
	v.hz = v.grid(perOctave)
	return v
}

// add adds a way in one combination to a problem, once for the same stages, and
// returns its path. A negative way is the common stages by themselves.
func (v *values) add(p *parts.Problem, made map[string]int, way int, c biquad.Combination) int {
	stages := v.picked(&v.board.Common, c)
	if way >= 0 {
		stages = append(stages, v.picked(&v.board.Ways[way].Chain, c)...)
	}
	key := fmt.Sprint(way, stages)
	if n, ok := made[key]; ok {
		return n
	}
	made[key] = len(p.Paths)
	p.Paths = append(p.Paths, v.path(way, stages, c))
	return len(p.Paths) - 1
}

// values is the choice of values under way.
type values struct {
	board  *Board
	job    Job
	hz     []float64
	stages []*Stage
	index  map[*Stage]int
	lists  [][]parts.Choice // of each stage; one where it has been chosen
	asked  [][]complex128   // level times section of each stage
	chosen []*Chain         // whose values have been chosen
	known  parts.Known
	// limitDB and phaseRad are what is promised of every way, and wants are prototypes'
	// responses.
	limitDB, phaseRad float64
	wants             map[string][]complex128
}

// ask tabulates what each stage is asked to be.
func (v *values) ask() {
	for _, l := range v.lists {
		h := make([]complex128, len(v.hz))
		for i, f := range v.hz {
			h[i] = complex(l[0].Level, 0) * l[0].Section.At(2*math.Pi*f)
		}
		v.asked = append(v.asked, h)
	}
}

// choose chooses the values of one chain: as few new ones, beside those that the
// other stages have, as its limits allow.
func (v *values) choose(c *Chain, bench *parts.Bench) error {
	p := parts.Problem{Hz: v.hz, DownDB: downDB, Known: &v.known}
	mine := make([]bool, len(v.stages))
	free := false
	for i, s := range v.stages {
		mine[i] = s.Block == c.Block
		free = free || mine[i]
		p.Stages = append(p.Stages, parts.Stage{Candidates: []parts.Choice{s.Choice}})
	}
	if !free {
		return nil
	}
	v.paths(c, &p)
	used := v.used(c)
	prices := firstValue[:]
	if slices.Contains(v.chosen, c) {
		prices = newValue[:] // or else what was chosen before
	}
	plans, errs := make([]parts.Plan, len(prices)), make([]error, len(prices))
	first := parallel.First(len(prices), func(_, n int, idle func() bool) bool {
		p := p
		p.Idle = idle
		p.Stages = slices.Clone(p.Stages)
		for i := range v.stages {
			if mine[i] {
				p.Stages[i].Candidates = v.reusing(v.lists[i], used, prices[n])
			}
		}
		if plans[n], errs[n] = bench.Joint(p); errs[n] != nil {
			return true
		}
		path, sum := plans[n].Worst()
		return prices[n] == 0 || path <= consolidated*v.job.LimitDB && sum <= consolidated*v.job.SumLimitDB
	})
	if first < len(prices) {
		if errs[first] != nil {
			return errs[first]
		}
		for i, s := range v.stages {
			if mine[i] {
				s.Choice = plans[first].Choices[i]
				s.Score -= prices[first] * float64(added(s.Choice, used))
			}
		}
	}
	v.chosen = append(v.chosen, c)
	return nil
}

// used are the values of the stages chosen so far, but for the chain's own:
// resistors as they are, capacitors negative.
func (v *values) used(c *Chain) map[float64]bool {
	out := map[float64]bool{nearest(v.job.Spec.Resistors, usualOhm): true}
	for _, o := range v.chosen {
		if o == c {
			continue
		}
		for _, s := range o.Stages() {
			for i, e := range s.Topology.Parts() {
				out[signed(e, s.Values[i])] = true
			}
		}
	}
	return out
}

func signed(e circuit.Element, v float64) float64 {
	if e.Kind == netlist.Capacitor {
		return -v
	}
	return v
}

// added is how many different values a choice has that are not among those used.
func added(c parts.Choice, used map[float64]bool) int {
	fresh := map[float64]bool{}
	for i, e := range c.Topology.Parts() {
		if x := signed(e, c.Values[i]); x != 0 && !used[x] {
			fresh[x] = true
		}
	}
	return len(fresh)
}

// reusing are the best choices of a list where each new value costs points.
func (v *values) reusing(list []parts.Choice, used map[float64]bool, points float64) []parts.Choice {
	out := slices.Clone(list)
	for i := range out {
		out[i].Score += points * float64(added(out[i], used))
	}
	slices.SortStableFunc(out, func(a, b parts.Choice) int { return cmp.Compare(a.Score, b.Score) })
	return out[:min(len(out), mostChoices)]
}

// candidates lists each stage's choices of values; stages that are asked the
// same share them.
func candidates(stages []*Stage, bench *parts.Bench) ([][]parts.Choice, error) {
	type question struct {
		section biquad.Analog
		name    string
	}
	var asked []*Stage
	at := map[question]int{}
	of := make([]int, len(stages))
	for i, s := range stages {
		q := question{s.Section, s.Topology.Name}
		k, ok := at[q]
		if !ok {
			k = len(asked)
			at[q] = k
			asked = append(asked, s)
		}
		of[i] = k
	}
	lists := make([][]parts.Choice, len(asked))
	errs := make([]error, len(asked))
	// The largest first, so that no processor has one of them left at the end.
	order := make([]int, len(asked))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, k int) int {
		return cmp.Compare(len(asked[k].Topology.Template), len(asked[i].Topology.Template))
	})
	parallel.Each(len(asked), func(i int) {
		i = order[i]
		s := asked[i]
		all, _, err := bench.Candidates(s.Section, only(s.Topology), pool)
		if err != nil {
			errs[i] = err
			return
		}
		// The level that the rest of the way was made for comes first.
		for _, c := range all {
			if math.Abs(c.Level-s.Level) <= 1e-9*math.Abs(s.Level) {
				lists[i] = append(lists[i], c)
			}
		}
		if len(lists[i]) == 0 {
			lists[i] = []parts.Choice{s.Choice}
		}
	})
	out := make([][]parts.Choice, len(stages))
	for i, k := range of {
		if errs[k] != nil {
			return nil, errs[k]
		}
		out[i] = slices.Clone(lists[k])
	}
	return out, nil
}

// grid lists the frequencies that values are chosen at: a logarithmic grid and
// the stages' own.
func (v *values) grid(perOctave int) []float64 {
	var own []float64
	for _, s := range v.stages {
		if w, _ := s.Section.Natural(); w > 0 {
			own = append(own, w/(2*math.Pi))
		}
	}
	return parts.Grid(v.job.LowHz, v.job.HighHz, perOctave, own...)
}

// paths adds to a problem what a chain's values are judged by: the common
// stages by themselves, or a way behind them and its sum with the way below, in
// their combinations of settings.
func (v *values) paths(c *Chain, p *parts.Problem) {
	way := c.Block - 2
	made := map[string]int{} // path by way and stages
	path := func(way int, c biquad.Combination) int { return v.add(p, made, way, c) }
	if way < 0 {
		each(biquad.Axes(v.job.System.Common), v.job.Choices, func(c biquad.Combination) { path(way, c) })
		return
	}
	sums := map[[2]int]bool{}
	below := max(way-1, 0)
	each(biquad.Axes(v.job.System.Path(way), v.job.System.Path(below)), v.job.Choices, func(c biquad.Combination) {
		pair := [2]int{path(way, c), path(below, c)}
		if below != way && !sums[pair] {
			sums[pair] = true
			p.Sums = append(p.Sums, parts.Sum{Paths: pair[:]})
		}
	})
	for i := range p.Paths {
		p.Paths[i].Way -= below
	}
}

// picked are the indices of a chain's stages in one combination.
func (v *values) picked(c *Chain, comb biquad.Combination) []int {
	var out []int
	for i := range c.Positions {
		x := &c.Positions[i]
		for _, s := range x.Alt[x.Index(comb)].Stages {
			if k, ok := v.index[s]; ok {
				out = append(out, k)
			}
		}
	}
	return out
}

// path is a way through stages, or the common stages by themselves where way is
// negative.
func (v *values) path(way int, stages []int, c biquad.Combination) parts.Path {
	x := parts.Path{Way: max(way, 0), Stages: stages, Want: make([]complex128, len(v.hz)), Extra: make([]complex128, len(v.hz))}
	wanted := v.job.System.Common
	wanted.DelayS = 0 // each way has its own all-passes for it
	if way >= 0 {
		wanted = v.job.System.Path(way)
		wanted.DelayS += v.board.DelayS
	}
	biquad.AnalogAt(x.Want, wanted, c, v.hz)
	level := complex(1, 0)
	for i, f := range v.hz {
		h := v.board.endsAt(f)
		for _, k := range stages {
			h *= v.asked[k][i]
		}
		if x.Extra[i] = 1; x.Want[i] != 0 && h != 0 {
			x.Extra[i] = h / x.Want[i]
		}
		if way < 0 && i == 0 {
			// The ways make up for the level of the common stages.
			level = complex(math.Hypot(real(x.Extra[i]), imag(x.Extra[i])), 0)
		}
		x.Extra[i] /= level
	}
	if way >= 0 {
		x.PerRad = v.perRad(way, c)
	}
	return x
}

// perRad is what an error of a way's phase weighs (dB a radian) at each frequency in
// one combination: where a neighbour is near in level what is promised of phase, less
// what the all-passes for a delay may use up, weighs as much as what is promised of
// magnitude. Sums alone do not hold it: ways in phase hide small turns.
func (v *values) perRad(way int, c biquad.Combination) []float64 {
	budget := v.phaseRad
	if slices.ContainsFunc(v.board.Ways[way].Stages(), func(s *Stage) bool { return s.Role == DelayStage }) {
		budget -= v.job.DelayRad
	}
	if !(budget > 0) {
		return nil
	}
	out := make([]float64, len(v.hz))
	own := v.wanted(way, c)
	for _, n := range [...]int{way - 1, way + 1} {
		if n < 0 || n >= len(v.board.Ways) {
			continue
		}
		for i, h := range v.wanted(n, c) {
			if apart := biquad.GainDB(cmplx.Abs(h) / cmplx.Abs(own[i])); math.Abs(apart) < nearDB {
				out[i] = v.limitDB / budget
			}
		}
	}
	return out
}

// wanted is the prototype's response of a way in one combination.
func (v *values) wanted(way int, c biquad.Combination) []complex128 {
	key := fmt.Sprint(way, c)
	if h, ok := v.wants[key]; ok {
		return h
	}
	h := make([]complex128, len(v.hz))
	biquad.AnalogAt(h, v.job.System.Path(way), c, v.hz)
	v.wants[key] = h
	return h
}

// each calls f with every combination of the axes, or where there are many with
// the default and every other choice by itself.
func each(axes []biquad.Axis, choices []int, f func(biquad.Combination)) {
	if biquad.Count(axes) <= mostPaths {
		biquad.Each(axes, len(choices), f)
		return
	}
	c := make(biquad.Combination, len(choices))
	f(c)
	for _, ax := range axes {
		for k := 1; k < ax.Choices; k++ {
			c[ax.Setting] = uint8(k)
			f(c)
		}
		c[ax.Setting] = 0
	}
}

// endsAt is the response of input and output parts at hz.
func (b *Board) endsAt(hz float64) complex128 {
	w := complex(0, 2*math.Pi*hz)
	divide := func(series, load, farad float64) complex128 {
		z := complex(series, 0)
		if farad > 0 {
			z += 1 / (w * complex(farad, 0))
		}
		return complex(load, 0) / (complex(load, 0) + z)
	}
	h := complex(1, 0)
	in, out := b.Spec.Input, b.Spec.Output
	source := in.SourceOhm
	if in.Balanced {
		source /= 2
	}
	for _, p := range b.Common.Ends {
		if p.Use == Bias {
			h *= divide(source, p.Value, in.CouplingF)
			break
		}
	}
	load := out.LoadOhm
	if out.CouplingF > 0 {
		load = load * biasOhm / (load + biasOhm)
	}
	return h * divide(out.BuildOutOhm, load, out.CouplingF)
}

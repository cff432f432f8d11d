package board

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/stage"
	"bandwright/compiler/values"
)

// mostPaths is in how many combinations of settings a way is looked at while
// values are chosen; a way with more is looked at in those of single choices.
const mostPaths = 16

// judged is what a choice of values is judged by: the stages that have values, and
// which response is wanted at some frequencies of the paths through them.
type judged struct {
	board  *Board
	job    Job
	bench  *stage.Bench
	stages []*Stage
	// limitDB and phaseRad are what may be used up of what is promised of every way.
	limitDB, phaseRad float64
	hz                []float64
	at                *stage.Realised // what candidates do at hz
	asked             [][]complex128  // level times section of each stage
}

func (b *Board) judged(j Job, bench *stage.Bench, limitDB, phaseRad float64) *judged {
	v := &judged{board: b, job: j, bench: bench, limitDB: limitDB, phaseRad: phaseRad}
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			if s.Role != InputStage {
				v.stages = append(v.stages, s)
			}
		}
	}
	return v
}

// grid lists the frequencies (Hz) that values are chosen at: a logarithmic grid and
// the stages' own.
func (v *judged) grid(perOctave int) []float64 {
	var own []float64
	for _, s := range v.stages {
		if w, _ := s.Section.Natural(); w > 0 {
			own = append(own, w/(2*math.Pi))
		}
	}
	return biquad.Octaves(v.job.LowHz, v.job.HighHz, perOctave, own...)
}

// look begins to look at frequencies (Hz, ascending).
func (v *judged) look(hz []float64) {
	v.hz, v.asked = nil, nil
	for _, k := range stage.CoarseToFine(len(hz), -1) {
		v.hz = append(v.hz, hz[k])
	}
	v.at = v.bench.At(v.hz)
	for _, s := range v.stages {
		h := make([]complex128, len(v.hz))
		for i, f := range v.hz {
			h[i] = complex(s.Level, 0) * s.Section.At(2*math.Pi*f)
		}
		v.asked = append(v.asked, h)
	}
}

// problem is the stages with the values that they have, and no paths yet.
func (v *judged) problem() values.Problem {
	p := values.Problem{At: v.at, DownDB: downDB}
	for _, s := range v.stages {
		p.Stages = append(p.Stages, []stage.Candidate{s.Candidate})
	}
	return p
}

// add adds what a way is judged by to a problem: its own response and its sum with
// the way below, in their combinations of settings. A negative way is the common
// stages by themselves.
func (v *judged) add(p *values.Problem, way int) {
	if way < 0 {
		each(biquad.Axes(v.job.System.Common), v.job.Choices, func(c biquad.Combination) { v.path(p, way, c) })
		return
	}
	below := max(way-1, 0)
	each(biquad.Axes(v.job.System.Path(way), v.job.System.Path(below)), v.job.Choices, func(c biquad.Combination) {
		pair := []int{v.path(p, way, c), v.path(p, below, c)}
		if below != way && !slices.ContainsFunc(p.Sums, func(s assign.Sum) bool { return slices.Equal(s.Paths, pair) }) {
			p.Sums = append(p.Sums, assign.Sum{Pair: below, Paths: pair})
		}
	})
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

// path adds a way in one combination to a problem, once for the same stages, and
// returns its index.
func (v *judged) path(p *values.Problem, way int, c biquad.Combination) int {
	x := assign.Path{Way: max(way, 0), Stages: v.picked(&v.board.Common, c)}
	wanted := v.job.System.Common
	wanted.DelayS = 0 // each way has its own all-passes for it
	if way >= 0 {
		x.Stages = append(x.Stages, v.picked(&v.board.Ways[way].Chain, c)...)
		wanted = v.job.System.Path(way)
		wanted.DelayS += v.board.DelayS
	}
	if n := slices.IndexFunc(p.Paths, func(o assign.Path) bool { return o.Way == x.Way && slices.Equal(o.Stages, x.Stages) }); n >= 0 {
		return n
	}
	if way >= 0 {
		x.PerRad = v.perRad(way, c)
	}
	x.Want, x.Extra = make([]complex128, len(v.hz)), make([]complex128, len(v.hz))
	biquad.AnalogAt(x.Want, wanted, c, v.hz)
	level := complex(1, 0)
	for i, f := range v.hz {
		h := v.board.endsAt(f)
		for _, k := range x.Stages {
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
	p.Paths = append(p.Paths, x)
	return len(p.Paths) - 1
}

// picked are the indices of a chain's stages in one combination.
func (v *judged) picked(c *Chain, comb biquad.Combination) []int {
	var out []int
	for _, x := range c.Positions {
		for _, s := range x.Alt[x.Index(comb)].Stages {
			if k := slices.Index(v.stages, s); k >= 0 {
				out = append(out, k)
			}
		}
	}
	return out
}

// perRad is what an error of a way's phase weighs (dB a radian) at each frequency in
// one combination: where a neighbour is near in level what is promised of phase, less
// what the all-passes for a delay may use up, weighs as much as what is promised of
// magnitude. Sums alone do not hold it: ways in phase hide small turns.
func (v *judged) perRad(way int, c biquad.Combination) []float64 {
	budget := v.phaseRad
	if slices.ContainsFunc(v.board.Ways[way].Stages(), func(s *Stage) bool { return s.Role == DelayStage }) {
		budget -= v.job.DelayRad
	}
	if !(budget > 0) {
		return nil
	}
	ways := len(v.board.Ways)
	h := make([][]complex128, ways)
	for n := max(way-1, 0); n < min(way+2, ways); n++ {
		h[n] = make([]complex128, len(v.hz))
		biquad.AnalogAt(h[n], v.job.System.Path(n), c, v.hz)
	}
	out := make([]float64, len(v.hz))
	for i := range out {
		apart := func(n int) float64 { return biquad.GainDB(cmplx.Abs(h[n][i]) / cmplx.Abs(h[way][i])) }
		if biquad.NeighbourMarginDB(biquad.NeighbourDB, way, ways, apart) > 0 {
			out[i] = v.limitDB / budget
		}
	}
	return out
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
	source := 0.0
	for _, p := range b.Common.Ends {
		if p.Use == SourceResistance || p.Use == SeriesResistance {
			source += p.Value
		}
		if p.Use == RFFilter {
			h /= 1 + w*complex(source*p.Value, 0)
		}
		if p.Use == Bias {
			h *= divide(source, p.Value, in.CouplingF)
			break
		}
	}
	level, _ := b.trimmed()
	return h * complex(level, 0) * divide(b.buildOutOhm(), b.loadOhm(), out.CouplingF)
}

package board

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// strainPerOctave is the density of the frequencies at which op-amps are looked
// at beside the stages' own: a twelfth of an octave beside a true maximum of a
// Q of 3 or less. clipSteps is how often the interval around the highest output
// is narrowed to 0.618 of it.
const strainPerOctave, clipSteps = 12, 30

// Limit is what of an op-amp a signal that is too large for it reaches.
type Limit uint8

// The limits.
const (
	OfSwing   Limit = iota // peak volts at the output
	OfCurrent              // peak amperes that the output gives
	OfSlew                 // how fast the output changes: 2πf times its peak
	limits    = iota
)

// String is the limit in words.
func (l Limit) String() string { return [...]string{"swing", "output current", "slew rate"}[l] }

// strain is the most that a sine at the input asks for, over the band: volts or amperes, at a
// frequency, and as a share of what the op-amp can.
type strain struct {
	at           *amplifier // nil for what is not one op-amp's
	by           Limit
	v, hz, share float64
	// inputV is the level (V RMS) that the sine has; 0 for one of 1 V peak.
	inputV float64
}

// strains are what a sine of 1 V peak at the input asks for in one case.
type strains struct {
	// by is the greatest of each limit on the way's path, and common that of op-amps'
	// inputs.
	by     [limits]strain
	common strain
	stages []stageStrain
	out    strain // of the way's output
	all    strain // of all outputs of the board together (A): each one's peak
	// grid are the frequencies that were looked at, levels the way's output there (V), and
	// shares the greatest of any op-amp's limits.
	grid, levels, shares []float64
}

// stageStrain is that of one stage of the path: volts at its output, and what its
// op-amps run out of first.
type stageStrain struct {
	*stageOn
	out, first strain
}

// clip is what the way runs out of first.
func (s *strains) clip() strain {
	most := s.by[0]
	for _, x := range s.by[1:] {
		if x.share > most.share {
			most = x
		}
	}
	return most
}

// clipV is the sine at the input (V RMS) with which an op-amp reaches a share of 1; 0 where
// none ever does.
func (s strain) clipV() float64 {
	if !(s.share > 0) {
		return 0
	}
	if s.inputV == 0 {
		return 1 / (math.Sqrt2 * s.share)
	}
	return s.inputV / s.share
}

// of is the strain with a sine of another level (V RMS).
func (s strain) of(inputV float64) strain {
	k := inputV * math.Sqrt2
	s.v, s.share, s.inputV = s.v*k, s.share*k, inputV
	return s
}

// strained looks at the op-amps of a way, common stages included. What the board
// was made for has been looked at already.
func (b *Board) strained(c verify.Case) (*strains, error) {
	if s, ok := b.wiring.strained[strainKey(c)]; ok {
		return s, nil
	}
	s, err := b.strainedTogether([]verify.Case{c})
	return s[0], err
}

// strainedTogether is strained for cases of one combination, which share the solutions at
// the frequencies that they have in common: nil for a case without one, with its error.
func (b *Board) strainedTogether(cases []verify.Case) ([]*strains, error) {
	solver := b.wiring.in(cases[0].C)
	var hz []float64
	looks := make([]*look, len(cases))
	for k, c := range cases {
		looks[k] = b.newLook(c, solver)
		hz = append(hz, looks[k].grid...)
	}
	out := make([]*strains, len(cases))
	var failed error
	for _, f := range biquad.Ascending(hz, 0) {
		if err := solver.At(f); err != nil {
			return out, err
		}
		for _, l := range looks {
			if n := len(l.all); n < len(l.grid) && l.grid[n] == f {
				l.take(f)
			}
		}
	}
	for k, l := range looks {
		s := l.summits()
		if err := l.refine(s); err != nil {
			failed = err
			continue
		}
		out[k] = s
	}
	return out, failed
}

func strainKey(c verify.Case) string { return string(append([]byte{byte(c.Way)}, c.C...)) }

// look is a look at all op-amps of a way's path in one case, frequency by frequency.
type look struct {
	solver *nodal.Solver
	path   []*stageOn
	amps   []*amplifier
	every  []int // the op-amps of the whole board
	nodes  []netlist.Node
	grid   []float64
	// What was found at each frequency: volts of the stages' outputs and of the way's, and of
	// each op-amp the shares of its limits and of its common-mode range.
	volts  [][]float64
	shares [][limits][]float64
	common [][]float64
	all    []float64 // A
}

// stageOn is a stage on a way's path.
type stageOn struct {
	*Stage
	chain string
}

// where is the stage in words.
func (s *stageOn) where() string { return fmt.Sprintf("%s stage %d", s.chain, s.Number) }

// amplifier is an op-amp, which of the circuit's parts it is, and whose.
type amplifier struct {
	netlist.Part
	index int
	of    *stageOn
	stage int // of the path
}

// String is where it stands: "U202A of bass stage 2".
func (p *amplifier) String() string { return p.Ref + " of " + p.of.where() }

// onPath lists the stages that signal passes on its way in one case, and their natural
// frequencies (Hz).
func (b *Board) onPath(c verify.Case) (path []*stageOn, natural []float64) {
	for _, chain := range []*Chain{&b.Common, &b.Ways[c.Way].Chain} {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			for _, s := range x.Alt[x.Index(c.C)].Stages {
				path = append(path, &stageOn{s, b.NameOf(chain)})
				if w, _ := s.Section.Natural(); w > 0 {
					natural = append(natural, w/(2*math.Pi))
				}
			}
		}
	}
	return path, natural
}

func (b *Board) newLook(c verify.Case, solver *nodal.Solver) *look {
	path, natural := b.onPath(c)
	l := &look{solver: solver, path: path, grid: biquad.Octaves(b.bandHz[0], b.bandHz[1], strainPerOctave, natural...)}
	circuit := b.wiring.circuit
	for i, s := range path {
		for k, e := range s.Topology.Template {
			if p, ok := circuit.Part(s.Refs[k]); ok && e.Kind == netlist.Amplifier {
				l.amps = append(l.amps, &amplifier{circuit.Parts()[p], p, s, i})
			}
		}
		l.nodes = append(l.nodes, circuit.Node(s.Out))
	}
	l.nodes = append(l.nodes, b.wiring.outs[c.Way])
	for i, p := range circuit.Parts() {
		if p.Kind == netlist.Amplifier {
			l.every = append(l.every, i)
		}
	}
	l.volts, l.shares, l.common = make([][]float64, len(l.nodes)), make([][limits][]float64, len(l.amps)), make([][]float64, len(l.amps))
	return l
}

// take takes what the present solution, at hz, shows into account.
func (l *look) take(hz float64) {
	for k, n := range l.nodes {
		l.volts[k] = append(l.volts[k], cmplx.Abs(l.solver.Voltage(n)))
	}
	for k, p := range l.amps {
		for by, x := range l.now(p, hz) {
			l.shares[k][by] = append(l.shares[k][by], x)
		}
		l.common[k] = append(l.common[k], over(cmplx.Abs(l.solver.Voltage(p.Nodes[0])), p.Model.CommonModeV))
	}
	sum := 0.0
	for _, p := range l.every {
		sum += cmplx.Abs(l.solver.Current(p))
	}
	l.all = append(l.all, sum)
}

// now are the shares of an op-amp's limits in the present solution, at hz.
func (l *look) now(p *amplifier, hz float64) [limits]float64 {
	m, out := p.Model, cmplx.Abs(l.solver.Voltage(p.Nodes[2]))
	return [limits]float64{
		OfSwing:   over(out, m.SwingV),
		OfCurrent: over(cmplx.Abs(l.solver.Current(p.index)), m.OutputA),
		OfSlew:    over(out*2*math.Pi*hz, m.SlewVPerS),
	}
}

// over is x as a share of a limit, 0 of one that is unknown.
func over(x, limit float64) float64 {
	if !(limit > 0) {
		return 0
	}
	return x / limit
}

// strain is a share of an op-amp's limit with the volts or amperes that it means.
func (p *amplifier) strain(by Limit, share, hz float64) strain {
	v := share
	switch m := p.Model; by {
	case OfSwing:
		v *= m.SwingV
	case OfCurrent:
		v *= m.OutputA
	case OfSlew:
		v *= m.SlewVPerS / (2 * math.Pi * hz)
	}
	return strain{at: p, by: by, v: v, hz: hz, share: share}
}

// summits are the greatest of all that was found: of the limits as they were found, of
// stages between the frequencies as well.
func (l *look) summits() *strains {
	s := &strains{grid: l.grid, levels: l.volts[len(l.path)], shares: make([]float64, len(l.grid))}
	for k := range l.path {
		hz, v := summit(l.grid, l.volts[k])
		s.stages = append(s.stages, stageStrain{stageOn: l.path[k], out: strain{v: v, hz: hz}})
	}
	for k, p := range l.amps {
		first := &s.stages[p.stage].first
		for by := range Limit(limits) {
			y := l.shares[k][by]
			for i, x := range y {
				s.shares[i] = math.Max(s.shares[i], x)
			}
			i := highest(y)
			if y[i] > s.by[by].share {
				s.by[by] = p.strain(by, y[i], l.grid[i])
			}
			if hz, share := summit(l.grid, y); share > first.share {
				*first = p.strain(by, share, hz)
			}
		}
		i := highest(l.common[k])
		if x := l.common[k][i]; x > s.common.share {
			s.common = strain{at: p, v: x * p.Model.CommonModeV, hz: l.grid[i], share: x}
		}
	}
	hz, v := summit(l.grid, l.volts[len(l.path)])
	s.out = strain{v: v, hz: hz}
	i := highest(l.all)
	s.all = strain{v: l.all[i], hz: l.grid[i]}
	return s
}

// highest is the index of the greatest of y.
func highest(y []float64) int {
	top := 0
	for i, v := range y {
		if v > y[top] {
			top = i
		}
	}
	return top
}

// summit is the greatest of y over frequency, by a parabola through the highest of the
// points and its neighbours, both axes logarithmic.
func summit(hz, y []float64) (at, top float64) {
	const apart = 1e-4 // octaves; nearer points say nothing of the curve
	i := highest(y)
	if i == 0 || i == len(y)-1 || !(y[i-1] > 0 && y[i+1] > 0) {
		return hz[i], y[i]
	}
	left, right := math.Log2(hz[i-1]/hz[i]), math.Log2(hz[i+1]/hz[i])
	if left > -apart || right < apart {
		return hz[i], y[i]
	}
	up, down := math.Log2(y[i-1]/y[i])/left, math.Log2(y[i+1]/y[i])/right // slopes
	curve := (down - up) / (right - left)
	if !(curve < 0) {
		return hz[i], y[i]
	}
	slope := up - curve*left // at the highest point
	x := -slope / (2 * curve)
	if !(x > left && x < right) {
		return hz[i], y[i]
	}
	return hz[i] * math.Exp2(x), y[i] * math.Exp2(slope*x+curve*x*x)
}

// refine looks for the true maximum of what clips first; nothing else comes before it.
func (l *look) refine(s *strains) error {
	most := s.clip()
	if most.at == nil {
		return nil
	}
	i := 0
	for l.grid[i] < most.hz {
		i++
	}
	var failed error
	p := biquad.Summit(l.grid[max(i-1, 0)], l.grid[min(i+1, len(l.grid)-1)], clipSteps, func(hz float64) float64 {
		if err := l.solver.At(hz); err != nil {
			failed = err
		}
		return l.now(most.at, hz)[most.by]
	})
	if failed != nil {
		return failed
	}
	if err := l.solver.At(p); err != nil {
		return err
	}
	for _, a := range l.amps {
		for by, share := range l.now(a, p) {
			if share > s.by[by].share {
				s.by[by] = a.strain(Limit(by), share, p)
			}
		}
	}
	most = s.clip()
	for k := range s.stages {
		switch first := &s.stages[k].first; {
		case k == most.at.stage:
			*first = most
		case first.share > most.share: // between the points of the parabola
			*first = first.at.strain(first.by, most.share, first.hz)
		}
	}
	return nil
}

// mostStrained is the greatest strain of each sort in the cases that the board is judged
// in, each with the sine that its input is made for: none of a case without a solution, in
// which no promise about the response is kept.
func (b *Board) mostStrained(cases []verify.Case) strains {
	all := make([]*strains, len(cases))
	together := byCombination(cases)
	parallel.Each(len(together), func(k int) {
		var of []verify.Case
		for _, i := range together[k] {
			of = append(of, cases[i])
		}
		found, _ := b.strainedTogether(of)
		for n, i := range together[k] {
			all[i] = found[n]
		}
	})
	b.wiring.strained = map[string]*strains{}
	var worst strains
	for i, s := range all {
		if s == nil {
			continue
		}
		b.wiring.strained[strainKey(cases[i])] = s
		level := b.InputV(cases[i])
		keep := func(of *strain, x strain) {
			if x = x.of(level); x.share > of.share {
				*of = x
			}
		}
		for k := range s.by {
			keep(&worst.by[k], s.by[k])
		}
		keep(&worst.common, s.common)
	}
	return worst
}

// byCombination are the cases that have one, by index, those of the same one together.
func byCombination(cases []verify.Case) [][]int {
	var out [][]int
	known := map[string]int{}
	for i, c := range cases {
		if c.C == nil {
			continue
		}
		k, ok := known[string(c.C)]
		if !ok {
			k = len(out)
			known[string(c.C)] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], i)
	}
	return out
}

package batch

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/verify"
)

// negligible is the largest relative change of a response (0.0001 dB) that a part
// around the stages may make without being looked at.
const negligible = 1e-5

// Simulator gives the responses of a board whose parts deviate, at fixed
// frequencies. It may be used by several goroutines; each has a Unit of its own.
type Simulator struct {
	Parts []Part
	Hz    []float64

	omega  []float64 // 2π·Hz
	blocks []block
	parted []parted
	turns  []turn
	stages map[*board.Stage]int // index of each stage's block
	around []int                // the parts that belong to no block
	ways   []path
	axes   [][]biquad.Axis // of each way
	normal bool            // the distribution of values
}

// block is a stage: its closed form, with the index of the part of each value (-1
// where none is fitted).
type block struct {
	closed  func([]float64) circuit.Ratio
	parts   []int
	nominal []float64
	inverse []complex128 // 1 over the response with nominal values
	form    form
	span
}

// span is a half-open range of frequencies by index.
type span struct{ from, to int }

// path is what lies between the input and the output of a way.
type path struct {
	fixed    []int // blocks of every variant
	variants []variant
	cores    []core
	around   []effect
	pulls    []complex128 // of the parts around the stages, frequency by frequency
	span
}

// parted is the stages of a position in one of its alternatives, where that is not the
// same in all variants of some way.
type parted struct {
	blocks []int
	span
}

// variant is a way in one combination of the settings that it depends on.
type variant struct {
	c       verify.Combination
	passed  [][]int      // blocks, by position of the common chain and the way's
	alts    []int        // which alternative of each position
	nominal []complex128 // with the real op-amp
	core    int          // of the way, which times what the turn does is this variant
	turn    int
}

// core is what a way does in one combination of its own settings, the common stages being as
// in the first of the turns.
type core struct {
	alts    []int        // of the way's positions
	variant int          // that is the same
	own     []int        // of the parted ones, those beside the fixed blocks
	base    []complex128 // the nominal response over that of its blocks
}

// effect is what a part around the stages does: d ln(response) over its relative
// deviation.
type effect struct {
	part int
	s    []complex128
}

// NewSimulator prepares the simulation of a board at hz (Hz, ascending) in the
// combinations that a subject is judged in. It fails where the board's equations
// have no solution.
func NewSimulator(subject *verify.Subject, b *board.Board, hz []float64) (*Simulator, error) {
	s := &Simulator{Hz: hz, stages: map[*board.Stage]int{}, ways: make([]path, len(b.Ways)), axes: subject.WayAxes, normal: b.Spec.Normal}
	for _, f := range hz {
		s.omega = append(s.omega, 2*math.Pi*f)
	}
	s.gather(b)
	responder := b.On(hz)
	for _, c := range subject.Cases() {
		if c.C == nil {
			continue
		}
		v := variant{c: c.C, nominal: make([]complex128, len(hz))}
		s.pass(&v, b, c.Way)
		responder.Response(v.nominal, c.Way, c.C)
		s.ways[c.Way].variants = append(s.ways[c.Way].variants, v)
	}
	s.part(len(b.Common.Positions))
	for k := range s.ways {
		s.ways[k].span = span{0, len(hz)}
	}
	if err := s.surround(subject, b); err != nil {
		return nil, err
	}
	s.settle()
	return s, nil
}

// Narrow leaves the ways nominal but at the frequencies, by index, from one of each way up
// to, and without, another. Units that were made before are of no use after it.
func (s *Simulator) Narrow(from, to []int) {
	for k := range s.ways {
		s.ways[k].span = span{from[k], to[k]}
	}
	s.settle()
}

// Touched are, by part, the ways that it does anything to.
func (s *Simulator) Touched() [][]bool {
	out := make([][]bool, len(s.Parts))
	for i := range out {
		out[i] = make([]bool, len(s.ways))
	}
	for k, p := range s.ways {
		for _, e := range p.around {
			out[e.part][k] = true
		}
		for _, v := range p.variants {
			for _, here := range v.passed {
				for _, b := range here {
					for _, part := range s.blocks[b].parts {
						if part >= 0 {
							out[part][k] = true
						}
					}
				}
			}
		}
	}
	return out
}

// Variant is the index of a way's variant in a combination of all settings.
func (s *Simulator) Variant(way int, c verify.Combination) int {
	return slices.IndexFunc(s.ways[way].variants, func(v variant) bool {
		for _, ax := range s.axes[way] {
			if v.c[ax.Setting] != c[ax.Setting] {
				return false
			}
		}
		return true
	})
}

// Deviations puts the relative deviations of all parts of a board as delivered.
func (s *Simulator) Deviations(dst []float64, board int) {
	draw(dst, board, asMade, s.normal)
	for i := range dst {
		dst[i] *= s.Parts[i].Tolerance
	}
}

// pass lists the blocks that signal passes on its way in a variant, by position.
func (s *Simulator) pass(v *variant, b *board.Board, way int) {
	for _, chain := range []*board.Chain{&b.Common, &b.Ways[way].Chain} {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			alt := x.Index(v.c)
			var here []int
			for _, st := range x.Alt[alt].Stages {
				if k, ok := s.stages[st]; ok {
					here = append(here, k)
				}
			}
			v.passed, v.alts = append(v.passed, here), append(v.alts, alt)
		}
	}
}

// surround finds what the parts around the stages do, in the default combination:
// settings hardly change it.
func (s *Simulator) surround(subject *verify.Subject, b *board.Board) error {
	solver, outs := b.Solver(make(biquad.Combination, len(subject.Settings)))
	var index []int
	for _, p := range s.around {
		index = append(index, b.PartIndex(s.Parts[p].Ref))
	}
	all := make([]complex128, b.PartCount())
	for k := range s.ways {
		s.ways[k].around = make([]effect, len(s.around))
		for i, p := range s.around {
			s.ways[k].around[i] = effect{p, make([]complex128, len(s.Hz))}
		}
	}
	for i, f := range s.Hz {
		if err := solver.At(f); err != nil {
			return err
		}
		for k, out := range outs {
			if err := solver.Sensitivities(all, out); err != nil {
				return err
			}
			for n, at := range index {
				s.ways[k].around[n].s[i] = all[at]
			}
		}
	}
	for k := range s.ways {
		var counts []effect
		for _, e := range s.ways[k].around {
			most := 0.0
			for _, v := range e.s {
				most = math.Max(most, biquad.Power(v))
			}
			if math.Sqrt(most)*s.Parts[e.part].Tolerance > negligible {
				counts = append(counts, e)
			}
		}
		s.ways[k].around = counts
		for i := range s.Hz {
			for _, e := range counts {
				s.ways[k].pulls = append(s.ways[k].pulls, e.s[i])
			}
		}
	}
	return nil
}

// settle works out what blocks do with nominal values, at the frequencies that the
// ways that they are part of are looked at, and what is left of each way's response
// without them.
func (s *Simulator) settle() {
	none := span{len(s.Hz), 0}
	for i := range s.blocks {
		s.blocks[i].span = none
	}
	for i := range s.parted {
		s.parted[i].span = none
	}
	for i := range s.turns {
		s.turns[i].span = none
	}
	for _, p := range s.ways {
		for _, x := range p.cores {
			for _, i := range x.own {
				s.parted[i].hold(p.span)
			}
		}
		for _, v := range p.variants {
			s.turns[v.turn].hold(p.span)
			for _, here := range v.passed {
				for _, i := range here {
					s.blocks[i].hold(p.span)
				}
			}
		}
	}
	for i := range s.blocks {
		b := &s.blocks[i]
		b.inverse = make([]complex128, len(s.Hz))
		h := b.closed(b.nominal)
		for k := b.from; k < b.to; k++ {
			b.inverse[k] = 1 / h.At(s.omega[k])
		}
		b.form = formOf(b, s.omega[(b.from+b.to)/2])
	}
	for k := range s.ways {
		for n := range s.ways[k].cores {
			s.ways[k].cores[n].base = slices.Repeat([]complex128{1}, len(s.Hz))
		}
	}
	for t := range s.turns {
		s.turns[t].base = slices.Repeat([]complex128{1}, len(s.Hz))
	}
	u := s.Unit()
	u.Set(make([]float64, len(s.Parts)))
	for k := range s.ways {
		p := &s.ways[k]
		for n := range p.cores {
			x := &p.cores[n]
			for i := p.from; i < p.to; i++ {
				x.base[i] = p.variants[x.variant].nominal[i] / u.cores[k][n][i]
			}
		}
	}
	for t := range s.turns {
		x, h := &s.turns[t], u.turned(t)
		for i := x.from; i < x.to; i++ {
			x.base[i] = s.turnsTo(t, i) / h.at[i]
		}
	}
}

// hold widens a span to hold another.
func (s *span) hold(o span) { s.from, s.to = min(s.from, o.from), max(s.to, o.to) }

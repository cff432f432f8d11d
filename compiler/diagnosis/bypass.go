package diagnosis

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/board"
)

// bypassReach (s) is how far another delay may be sought of a unit without one of its stages, which turn phase.
const bypassReach = 0.002

// bypassed are the boards without one of the stages that are in the signal's way in this combination, as where a jumper or
// a drop of solder leads around it. The stage in front drives what comes behind alike: between op-amps' outputs nothing
// else changes, so that what the nominal board makes of a stage, the ratio of its nodes' voltages, is taken out.
func (x *Bench) bypassed() ([]Alternative, error) {
	var out []Alternative
	ratios, err := x.ratios()
	if err != nil {
		return nil, err
	}
	for _, r := range ratios {
		a := Alternative{Text: r.text, stage: true}
		far := 0.0
		for column, w := range x.ways {
			h := append([]complex128(nil), x.nominal[column]...)
			for f := range h {
				if r.way < 0 || r.way == w {
					h[f] /= r.of[f]
				}
			}
			a.H = append(a.H, h)
		}
		for _, at := range x.places {
			far = math.Max(far, cmplx.Abs(a.H[at.column][at.f]/x.nominal[at.column][at.f]-1))
		}
		if far > biquad.FromDB(same)-1 {
			out = append(out, a)
		}
	}
	return out, nil
}

// ratio is what one stage makes of its input, by frequency of the bench; way is -1 of a stage that all have.
type ratio struct {
	text string
	way  int
	of   []complex128
}

// ratios are those of all stages that have one input.
func (x *Bench) ratios() ([]ratio, error) {
	var out []ratio
	var stages []*board.Stage
	for k, chain := range x.board.Chains() {
		for i := range chain.Positions {
			p := &chain.Positions[i]
			for _, s := range p.Alt[p.Index(x.C)].Stages {
				if s.InN != "" || len(s.Section.Poles()) == 0 && s.Section.Order() == 0 {
					continue // what changes but the level is told by parts, and by the level
				}
				stages = append(stages, s)
				out = append(out, ratio{fmt.Sprintf("stage %d of %s is bypassed (%s)", s.Number, x.board.NameOf(chain), s.From), k - 1, make([]complex128, len(x.hz))})
			}
		}
	}
	circuit := x.board.Circuit(x.C)
	solver, _ := x.board.Solver(x.C)
	for f, hz := range x.hz {
		if err := solver.At(hz); err != nil {
			return nil, err
		}
		for k, s := range stages {
			from, ok := circuit.Find(s.In)
			to, also := circuit.Find(s.Out)
			if !ok || !also {
				return nil, fmt.Errorf("stage %d has no node %s or %s", s.Number, s.In, s.Out)
			}
			out[k].of[f] = solver.Voltage(to) / solver.Voltage(from)
		}
	}
	return out, nil
}

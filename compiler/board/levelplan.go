package board

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// LevelPlan is what the sine that the input is made for becomes on a way's path in one
// case: stage by stage, at the frequency of the band where it is greatest.
type LevelPlan struct {
	Case   verify.Case
	InputV float64 // V RMS
	// Stages are those of the path in the order of the signal, common ones first, and First
	// is the one of which an op-amp clips first.
	Stages []Level
	First  int
	// OutV is the greatest voltage at the way's output (V RMS), at OutHz.
	OutV, OutHz float64
}

// Level is one stage of a plan.
type Level struct {
	*Stage
	Chain   string  // "common" or the name of a way
	V, AtHz float64 // greatest voltage at its output (V RMS)
	Clip    Clip    // of its op-amps
}

// Clip is where an op-amp clips first.
type Clip struct {
	OpAmp, Node string // its reference, and the node at its output
	By          Limit
	AtHz        float64
	// Asked is what the sine asks for, and Has what the op-amp has of it: V or A, peak, or
	// V/s.
	Asked, Has float64
	// InputV is the least sine at the input (V RMS) with which it clips, and MarginDB how far
	// above the input's level that is.
	InputV, MarginDB float64
}

// LevelPlan is the plan of a case with a combination. It fails where the board's
// equations have no solution.
func (b *Board) LevelPlan(c verify.Case) (LevelPlan, error) {
	s, err := b.strained(c)
	if err != nil {
		return LevelPlan{}, err
	}
	p := LevelPlan{Case: c, InputV: b.InputV(c)}
	out := s.out.of(p.InputV)
	p.OutV, p.OutHz = out.v/math.Sqrt2, out.hz
	for i, x := range s.stages {
		at := x.out.of(p.InputV)
		l := Level{Stage: x.Stage, Chain: x.chain, V: at.v / math.Sqrt2, AtHz: at.hz}
		if x.first.at != nil {
			l.Clip = b.clipped(x.first.of(p.InputV))
		}
		p.Stages = append(p.Stages, l)
		if x.first.share > s.stages[p.First].first.share {
			p.First = i
		}
	}
	return p, nil
}

// clipped is a strain with its sine as the report has it.
func (b *Board) clipped(x strain) Clip {
	has := [...]float64{OfSwing: b.OpAmp.SwingV, OfCurrent: b.OpAmp.OutputA, OfSlew: b.OpAmp.SlewVPerS}[x.by]
	return Clip{OpAmp: x.at.Ref, Node: b.node(x.at), By: x.by, AtHz: x.hz, Asked: x.share * has, Has: has,
		InputV: x.clipV(), MarginDB: -biquad.GainDB(x.share)}
}

// Rails is what a board takes from its supply. Both rails give the same: what comes from
// one and does not go to ground goes into the other, and the signal has no DC.
type Rails struct {
	RailV float64 // plus and minus this
	// OpAmps are those of all packages, spare ones included, and QuiescentA is what they
	// take from each rail at rest.
	OpAmps     int
	QuiescentA float64
	// SignalA is what the outputs take more from each rail, on average over a period, with a
	// sine of the input's level at AtHz, where that is most, in Case: half waves, as class B
	// stages take them. One that stays in class A takes less of that.
	SignalA, AtHz float64
	Case          verify.Case
}

// Rails is that of the board, with what signals take in the worst of the cases.
func (b *Board) Rails(cases []verify.Case) Rails {
	out := Rails{RailV: b.Spec.SupplyV}
	for _, p := range b.Packages {
		out.OpAmps += len(p.Units) + len(p.Spare)
	}
	out.QuiescentA = float64(out.OpAmps) * b.Spec.OpAmp.SupplyA
	for _, c := range cases {
		if c.C == nil {
			continue
		}
		s, err := b.strained(c)
		if err != nil {
			continue
		}
		// The mean of half a wave of a sine is its peak over π.
		if x := s.all.of(b.InputV(c)); x.v/math.Pi > out.SignalA {
			out.SignalA, out.AtHz, out.Case = x.v/math.Pi, x.hz, c
		}
	}
	return out
}

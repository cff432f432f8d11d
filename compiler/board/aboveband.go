package board

import (
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/stage"
	"bandwright/compiler/verify"
)

// outside is each case's way over frequency above the band; nil of one without a combination.
type outside struct {
	grid   []float64
	levels [][]float64
}

// aboveBand looks at all cases on one grid: one combination gives all ways, and what
// contacts do not change is worked out once.
func (b *Board) aboveBand(cases []verify.Case) outside {
	o := outside{biquad.Octaves(b.bandHz[1], max(2*b.bandHz[1], stage.AboveGain*b.OpAmp.GainBandwidthHz), strainPerOctave),
		make([][]float64, len(cases))}
	responder, h := b.On(o.grid), make([]complex128, len(o.grid))
	for _, together := range byCombination(cases) {
		for _, i := range together {
			responder.Response(h, cases[i].Way, cases[i].C)
			for _, v := range h {
				o.levels[i] = append(o.levels[i], cmplx.Abs(v))
			}
		}
	}
	return o
}

// peakAbove is by how much a way's greatest gain above the band, with the real
// op-amp, exceeds its greatest gain in the band: a stage may resonate where its
// op-amp runs out of gain, and nothing that is promised in the band shows it.
func (b *Board) peakAbove(c verify.Case, inside *strains, grid, levels []float64) (verify.Reading, error) {
	within, _, err := b.greatest(c, inside.grid, inside.levels)
	if err != nil {
		return verify.Reading{}, err
	}
	above, hz, err := b.greatest(c, grid, levels)
	return verify.Reading{Of: verify.PeakAbove, Value: biquad.GainDB(above) - biquad.GainDB(within), AtHz: hz}, err
}

// greatest is a way's greatest gain, of those on a grid and between those beside it.
func (b *Board) greatest(c verify.Case, grid, levels []float64) (gain, hz float64, err error) {
	solver, out := b.wiring.lend(c.C), b.wiring.outs[c.Way]
	defer b.wiring.giveBack(c.C, solver)
	level := func(hz float64) float64 {
		if failed := solver.At(hz); failed != nil {
			err = failed
		}
		return cmplx.Abs(solver.Voltage(out))
	}
	top := highest(levels)
	gain, hz = levels[top], grid[top]
	f := biquad.Summit(grid[max(top-1, 0)], grid[min(top+1, len(grid)-1)], clipSteps, level)
	if g := level(f); g > gain {
		gain, hz = g, f
	}
	return gain, hz, err
}

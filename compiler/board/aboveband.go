package board

import (
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/stage"
	"bandwright/compiler/verify"
)

// aboveBand is by how much a way's greatest gain above the band, with the real
// op-amp, exceeds its greatest gain in the band: a stage may resonate where its
// op-amp runs out of gain, and nothing that is promised in the band shows it.
func (b *Board) aboveBand(c verify.Case) (verify.Reading, error) {
	solver, out := b.wiring.in(c.C), b.wiring.outs[c.Way]
	var failed error
	level := func(hz float64) float64 {
		if err := solver.At(hz); err != nil {
			failed = err
		}
		return cmplx.Abs(solver.Voltage(out))
	}
	greatest := func(grid []float64) (gain, hz float64) {
		top := 0
		for i, f := range grid {
			if g := level(f); g > gain {
				gain, hz, top = g, f, i
			}
		}
		f := biquad.Summit(grid[max(top-1, 0)], grid[min(top+1, len(grid)-1)], clipSteps, level)
		if g := level(f); g > gain {
			gain, hz = g, f
		}
		return gain, hz
	}
	_, natural := b.onPath(c)
	inside, _ := greatest(biquad.Octaves(b.bandHz[0], b.bandHz[1], strainPerOctave, natural...))
	above, hz := greatest(biquad.Octaves(b.bandHz[1], max(2*b.bandHz[1], stage.AboveGain*b.OpAmp.GainBandwidthHz), strainPerOctave))
	return verify.Reading{Of: verify.PeakAbove, Value: biquad.GainDB(above) - biquad.GainDB(inside), AtHz: hz}, failed
}

package production

import (
	"math"

	"bandwright/compiler/board"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

const (
	// leastV is the least DC limit: meters and thermocouples of joints have their own.
	leastV = 0.001
	// offsetRoom is for resistors, which gains for DC hang on, and noiseRoom 3 dB for
	// op-amps, whose noise differs as their data does not tell, and for resistors.
	offsetRoom, noiseRoom = 1.05, math.Sqrt2
)

// voltages puts the limits of DC and noise: from the worst of all offsets and bias
// currents, and from the noise of the nominal board.
func (p *Plan) voltages(b *board.Board) {
	parallel.Each(len(p.Tests), func(i int) {
		t := &p.Tests[i]
		t.OffsetV = leastV
		if rest, err := b.AtRest(verify.Case{Way: t.Way, C: t.C}); err == nil {
			t.OffsetV, t.NoiseV = math.Max(leastV, rest.OffsetV*offsetRoom), rest.NoiseV*noiseRoom
		}
	})
}

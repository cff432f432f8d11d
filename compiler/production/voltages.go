package production

import (
	"context"
	"math"

	"bandwright/compiler/board"
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
	var cases []verify.Case
	for _, t := range p.Tests {
		cases = append(cases, verify.Case{Way: t.Way, C: t.C})
	}
	for i, readings := range b.Readings(context.Background(), cases) {
		t := &p.Tests[i]
		t.OffsetV = leastV
		for _, r := range readings {
			switch r.Of {
			case verify.Offset:
				t.OffsetV = math.Max(leastV, r.Value*offsetRoom)
			case verify.NoiseV:
				t.NoiseV = r.Value * noiseRoom
			}
		}
	}
}

package board_test

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

// What stages add to their way, each by itself with what stands behind it, is together
// what nodal analysis of the whole board finds at the outputs: noise, and DC.
func TestStagesAddUp(t *testing.T) {
	const (
		noiseTolerance = 0.05 // of the power: sources, loads, the trapezoidal rule
		dcTolerance    = 0.02
	)
	b := build(t, `bandwright: 1
name: test
common:
  - low-shelf: {at: 210 Hz, gain: -3 dB, q: 0.7}
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 55.8 Hz, q: 0.81}, to: {at: 34 Hz, q: 0.65}}
      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}
    gain: -4 dB
  treble:
    filters:
      - peak: {at: 6 kHz, q: 2, gain: 3 dB}
    gain: -1.5 dB
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 800 Hz}
board: {input: {source-impedance: 0 ohm}, output: {load: 1 Mohm}, op-amp: {offset: 1 mV, bias-current: 100 nA}}
`)
	adds, err := board.Adds(b.Board)
	if err != nil {
		t.Fatal(err)
	}
	for way := range b.Board.Ways {
		noise, dc := 0.0, 0.0
		for s, a := range adds {
			if s.Block == 1 || s.Block == b.Board.Ways[way].Block {
				x := a[way]
				noise, dc = noise+x.NoiseV2, dc+x.OffsetV
			}
		}
		for _, r := range b.Board.Readings(t.Context(), []verify.Case{{Way: way, C: biquad.Combination{}}})[0] {
			switch r.Of {
			case verify.NoiseV:
				if math.Abs(noise/(r.Value*r.Value)-1) > noiseTolerance {
					t.Errorf("way %d: noise of %.3f uV, of the whole board %.3f uV", way, 1e6*math.Sqrt(noise), 1e6*r.Value)
				}
			case verify.Offset:
				if math.Abs(dc/r.Value-1) > dcTolerance {
					t.Errorf("way %d: DC of %.3f mV, of the whole board %.3f mV", way, 1e3*dc, 1e3*r.Value)
				}
			}
		}
	}
}

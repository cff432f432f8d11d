package netlist

import (
	"errors"
	"math"
)

// OpAmp is the data of an op-amp. Its small-signal model is
//
//	V(out) = A(s)·(V(+) + offset - V(-)) - output resistance · I(out),
//	1/A(s) = 1/open-loop gain + s/(2π·gain-bandwidth),
//
// with a bias current that flows into either input, and noise voltage and
// currents whose power is that far above their corner, twice that at the corner,
// and rises as 1/f below it.
type OpAmp struct {
	// Ideal makes it a nullor: no voltage between the inputs, no current into
	// them, whatever the output has to do. It adds no noise, offset or bias
	// current, and its other figures do not matter.
	Ideal bool

	GainBandwidthHz float64 // Hz, > 0
	OpenLoopGain    float64 // at 0 Hz, V/V, > 0
	OutputOhm       float64 // Ω, ≥ 0, without feedback

	VoltageNoise float64 // V/√Hz, ≥ 0, referred to the input
	CurrentNoise float64 // A/√Hz, ≥ 0, of each input
	// Corners (Hz, ≥ 0) of the noise that rises towards low frequencies; 0 where
	// it does not.
	VoltageCornerHz, CurrentCornerHz float64
	OffsetV                          float64 // V, the largest magnitude
	BiasA                            float64 // A, into each input, the largest magnitude

	// What follows limits signals; linear analysis does not use it.
	CommonModeV float64 // V, largest input magnitude; 0 where unknown
	SwingV      float64 // V, largest output magnitude; 0 where unknown
	SlewVPerS   float64 // V/s; 0 where unknown
	OutputA     float64 // A, largest peak current of the output; 0 where unknown
}

// Check says which figure is out of range.
func (m OpAmp) Check() error {
	if m.Ideal {
		return nil
	}
	in := func(x, lo, hi float64) bool { return x >= lo && x <= hi }
	switch {
	case !in(m.GainBandwidthHz, 1, 1e15):
		return errors.New("the gain-bandwidth should be from 1 Hz to 1e15 Hz")
	case !in(m.OpenLoopGain, 1, 1e15):
		return errors.New("the open-loop gain should be from 1 to 1e15")
	case !in(m.OutputOhm, 0, 1e9):
		return errors.New("the output resistance should be from 0 to 1e9 ohm")
	case !in(m.VoltageNoise, 0, 1), !in(m.CurrentNoise, 0, 1):
		return errors.New("noise densities should be from 0 to 1 V/√Hz and 1 A/√Hz")
	case !in(m.VoltageCornerHz, 0, 1e9), !in(m.CurrentCornerHz, 0, 1e9):
		return errors.New("the corners of noise should be from 0 to 1e9 Hz")
	case !in(math.Abs(m.OffsetV), 0, 1e3), !in(math.Abs(m.BiasA), 0, 1):
		return errors.New("the offset should be at most 1000 V and the bias current at most 1 A")
	}
	return nil
}

// InverseGain is 1/A at w rad/s: 0 for an ideal op-amp.
func (m OpAmp) InverseGain(w float64) complex128 {
	if m.Ideal {
		return 0
	}
	return complex(1/m.OpenLoopGain, w/(2*math.Pi*m.GainBandwidthHz))
}

// VoltagePower is the density of the input noise voltage at hz, V²/Hz.
func (m OpAmp) VoltagePower(hz float64) float64 {
	return m.VoltageNoise * m.VoltageNoise * (1 + m.VoltageCornerHz/hz)
}

// CurrentPower is the density of the noise current of each input at hz, A²/Hz.
func (m OpAmp) CurrentPower(hz float64) float64 {
	return m.CurrentNoise * m.CurrentNoise * (1 + m.CurrentCornerHz/hz)
}

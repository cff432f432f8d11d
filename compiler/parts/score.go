package parts

import (
	"math"

	"bandwright/compiler/circuit"
)

// What speaks against a stage, in points; the stage with the fewest is the best
// choice. A point is meant to be about a hundredth of a tolerable board: what one
// would pay to save two parts.
const (
	// pointsPerDB of the response's error with the real op-amp: 0.05 dB, half of
	// what a whole way may be off by default, weighs as much as one point.
	pointsPerDB = 20
	// pointsPerDoubling of the output noise density above quietVoltage, which is
	// that of a 10 kΩ resistor behind a quiet op-amp, with the gain of the section
	// taken out.
	pointsPerDoubling = 1.0
	quietVoltage      = 15e-9 // V/√Hz
	// pointsPerNoiseGain per doubling of the noise gain above easyNoiseGain: the
	// op-amp's spare gain goes with it, and so do its errors and distortion.
	pointsPerNoiseGain = 1.0
	easyNoiseGain      = 4
	// pointsPerSwing per doubling of the largest swing inside: what an op-amp reaches
	// above the stage's input and output is headroom that nobody hears.
	pointsPerSwing = 1.0
	// pointsPerPart and pointsPerOpAmp: cost and space.
	pointsPerPart  = 0.25
	pointsPerOpAmp = 0.75
	// pointsInverted where the stage inverts: an odd number of such stages in a
	// way costs another one.
	pointsInverted = 0.5
	// pointsPerLoad per halving of the input impedance below easyInput, which the
	// op-amp of the stage before drives without loss of swing.
	pointsPerLoad = 2.0
	easyInput     = 2000 // Ω
	// pointsLevel per doubling of a level that another stage has to make up.
	pointsLevel = 0.5
)

// Figures are what a stage does with the real op-amp.
type Figures struct {
	// RealDB is as ErrorDB, with the real op-amp, where the response is within the
	// band's DownDB, or 40 dB where that is 0, of its peak.
	RealDB float64
	// NoiseV is the noise density (V/√Hz) at the output at the natural frequency,
	// of resistors and op-amps; 1 kHz for a gain.
	NoiseV float64
	// NoiseGain is by how much the input noise voltage of the op-amp that works
	// hardest appears at the output, at the natural frequency.
	NoiseGain float64
	// Swing is the largest magnitude in the band of any op-amp's output for 1 V at the
	// input.
	Swing float64
	// InputOhm is the smallest magnitude of the input impedance in the band, 1e12
	// where no current flows.
	InputOhm float64
}

// doublings is how often v is above a limit in powers of two, not below 0.
func doublings(v, limit float64) float64 {
	if !(v > limit) {
		return 0
	}
	return math.Min(math.Log2(v/limit), 50)
}

// score is what speaks against a measured choice. gain is the largest magnitude
// of the wanted response in the band.
func (c *Choice) score(gain float64) float64 {
	s := pointsPerDB * c.RealDB
	s += pointsPerDoubling * doublings(c.NoiseV/math.Max(gain, 1), quietVoltage)
	s += pointsPerNoiseGain * doublings(c.NoiseGain/math.Max(gain, 1), easyNoiseGain)
	s += pointsPerSwing * doublings(c.Swing, math.Max(gain, 1))
	s += pointsPerLoad * doublings(easyInput, c.InputOhm)
	s += pointsPerOpAmp * float64(c.Topology.OpAmps())
	s += pointsPerPart * float64(fitted(c.Values))
	s += pointsLevel * math.Abs(math.Log2(math.Abs(c.Level)))
	if c.Level < 0 {
		s += pointsInverted
	}
	return rounded(s)
}

// fitted counts parts.
func fitted(v []float64) int {
	n := 0
	for _, x := range v {
		if x != 0 {
			n++
		}
	}
	return n
}

// scoreStep is what scores and errors are rounded to before they are compared,
// so that the last bits decide nothing.
const scoreStep = 1e-9

// rounded is x to the nearest scoreStep.
func rounded(x float64) float64 {
	if math.Abs(x) > 1e6 {
		return x
	}
	return math.Round(x/scoreStep) * scoreStep
}

// levelOf is the response of a design divided by that of its section, taken where
// the section is largest.
func levelOf(a circuit.Asked, t *circuit.Topology, v []float64) float64 {
	s, h := a.Section(), t.Closed(v)
	var top, level float64
	for _, x := range [...]float64{0.01, 1, 100} {
		g := s.At(a.W * x)
		if m := math.Hypot(real(g), imag(g)); m > top {
			top, level = m, real(h.At(a.W*x)/g)
		}
	}
	return level
}

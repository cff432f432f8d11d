package stage

import (
	"math"
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
	// pointsPerVariance of the level from board to board (dB², of the standard deviation
	// where it is greatest): variances of the stages of a way add up. A way of ten stages
	// of 0.08 dB each has 0.25 dB, and 95 % of boards within some 0.6 dB; one stage of
	// 0.18 dB among them makes that 0.1 dB more, which weighs twice as much as 0.05 dB
	// of error.
	pointsPerVariance = 80
	// mostVariance (dB²) is what counts of it at most: next to a null every stage differs by
	// more, and none is worth what is promised of nominal boards.
	mostVariance = 0.1
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

// doublings is how often v is above a limit in powers of two, not below 0.
func doublings(v, limit float64) float64 {
	if !(v > limit) {
		return 0
	}
	return math.Min(math.Log2(v/limit), 50)
}

// score is what speaks against a measured choice. gain is the largest magnitude
// of the wanted response in the band.
func (c *Candidate) score(gain float64) float64 {
	s := pointsPerDB * c.RealDB
	s += pointsPerDoubling * doublings(c.NoiseV/math.Max(gain, 1), quietVoltage)
	s += pointsPerNoiseGain * doublings(c.NoiseGain/math.Max(gain, 1), easyNoiseGain)
	s += pointsPerSwing * doublings(c.Swing, math.Max(gain, 1))
	s += pointsPerLoad * doublings(easyInput, c.InputOhm)
	s += pointsPerVariance * math.Min(c.SpreadDB*c.SpreadDB, mostVariance)
	s += pointsPerOpAmp * float64(c.Topology.OpAmps())
	s += pointsPerPart * float64(len(c.Fitted()))
	s += pointsLevel * math.Abs(math.Log2(math.Abs(c.Level)))
	if c.Level < 0 {
		s += pointsInverted
	}
	return rounded(s)
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

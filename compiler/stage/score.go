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
	// pointsOfNoise and loudV (V RMS): see noisePoints.
	pointsOfNoise = 24
	loudV         = 20e-6
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
	// pointsPerPart and pointsPerOpAmp: cost, space, and what goes wrong. An op-amp is half a
	// package with its decoupling, some milliamperes and their warmth, an offset and a place to
	// clip: as much as twelve small parts. Two shelves with one op-amp less and the same noise at
	// the way's output differ by two capacitors, which is not as much.
	pointsPerPart  = 0.25
	pointsPerOpAmp = 3
	// pointsPerBulk of the capacitors: see bulkPoints.
	pointsPerBulk = 0.6
	// pointsInverted where the stage inverts: an odd number of such stages in a
	// way costs another one.
	pointsInverted = 0.5
	// pointsPerLoad and easyLoad (ohm), pointsPerOwnLoad: see loadPoints.
	pointsPerLoad    = 2.0
	pointsPerOwnLoad = 1.0
	easyLoad         = 2000
	// pointsPerCapacitiveLoad and easyFarad (F): see capacitiveLoadPoints.
	pointsPerCapacitiveLoad = 1.0
	easyFarad               = 220e-12
	// pointsPerVolt of DC and mostDC (V): see dcPoints.
	pointsPerVolt = 200
	mostDC        = 0.1
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

// growing is in proportion to v as long as that is small against limit, and doublings
// from there on: log2(1+v/limit).
func growing(v, limit float64) float64 { return math.Min(math.Log2(1+v/limit), 50) }

// noisePoints is for the noise that the stage adds at its way's output (V², 20 Hz to
// 20 kHz, what another stage makes up of its level included): powers of the stages of a
// way add up, so that points go with the power. loudV is -92 dBu: there a stage alone
// makes more noise than the way may by default. Where a way has -97 dBu, a stage that
// makes half of it has 5 points, and 0.8 dB less of the way's noise are worth 1.5.
func (c *Candidate) noisePoints(x Added) float64 {
	return pointsOfNoise * growing(x.NoiseV2, loudV*loudV)
}

// dcPoints is for the offset that the stage adds at its way's output (V): op-amps'
// offsets times DC gain, bias currents times resistance. Those of the stages of a way add
// up, so that points go with the voltage: of the 50 mV that a way may have 5 mV weigh as
// much as four parts. mostDC is what counts of it at most: beyond it the way needs a
// coupling capacitor whatever the stage is.
func (c *Candidate) dcPoints(x Added) float64 { return pointsPerVolt * math.Min(x.OffsetV, mostDC) }

// bulkPoints is for capacitors: 470 nF where 47 nF would do cost half an op-amp, and
// 100 nF instead of 22 nF nearly two parts.
func (c *Candidate) bulkPoints() float64 { return pointsPerBulk * c.Bulk() }

// loadPoints is for what op-amps have to drive: the least impedance (ohm) of the input,
// which is the stage before's, per halving below easyLoad, that op-amps drive without
// loss of swing; and half as much for the stage's own op-amps, whose feedback is known to
// suit them.
func (c *Candidate) loadPoints() float64 {
	return pointsPerLoad*doublings(easyLoad, c.InputOhm) + pointsPerOwnLoad*doublings(easyLoad, c.DrivenOhm)
}

// capacitiveLoadPoints is for a capacitor (F) at the input that no resistor stands before,
// per doubling above easyFarad: from there on usual op-amps lose phase margin.
func (c *Candidate) capacitiveLoadPoints() float64 {
	return pointsPerCapacitiveLoad * doublings(c.InputFarad, easyFarad)
}

// weigh sets what speaks against a measured choice, with what stands behind it.
func (c *Candidate) weigh(behind []float64) {
	x := c.own.through(behind).over(math.Abs(c.Level))
	s := pointsPerDB * c.RealDB
	s += c.noisePoints(x)
	s += c.dcPoints(x)
	s += c.bulkPoints()
	s += c.loadPoints()
	s += c.capacitiveLoadPoints()
	s += pointsPerNoiseGain * doublings(c.NoiseGain/math.Max(c.peak, 1), easyNoiseGain)
	s += pointsPerSwing * doublings(c.Swing, math.Max(c.peak, 1))
	s += pointsPerVariance * math.Min(c.SpreadDB*c.SpreadDB, mostVariance)
	s += pointsPerOpAmp * float64(c.Topology.OpAmps())
	s += pointsPerPart * float64(len(c.Fitted()))
	s += pointsLevel * math.Abs(math.Log2(math.Abs(c.Level)))
	if c.Level < 0 {
		s += pointsInverted
	}
	c.Score = rounded(s)
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

// Package diagnosis finds what is wrong with a finished board from what was measured of it:
// a board, the setting that it was measured in and its responses come in; hypotheses with their
// likelihoods come out, and what would bring it right.
//
// A measurement is told from the nominal board's by the tolerances of all parts, to the first
// order of their sensitivities, by noise, drift, level and delay, all taken as normal; a hypothesis is
// one thing more that is wrong, however much, by nodal analysis with the real op-amp. What
// hypotheses are likely follows from Bayes' rule; the amount of a deviation is integrated
// over (Laplace's method).
//
// The one invariant: nothing is named without its likelihood, and of what cannot be told
// apart all is named.
//
// Read first: Reading, NewBench, Bench.Diagnose.
package diagnosis

import "math"

// Reading is what was measured of one way.
type Reading struct {
	Way int
	// At is the response, output over input, at a frequency (Hz) between LowHz and HighHz.
	At            func(hz float64) complex128
	LowHz, HighHz float64
	// Noise is how much of At is noise, or what an impulse response that did not end left out (RMS,
	// linear, relative); nil where that is not known.
	Noise func(hz float64) float64
	// Carries reports whether the way is meant to be heard at a frequency (Hz): within 40 dB of its peak. Where it
	// is not, noise is all that may be in At. nil stands for everywhere.
	Carries func(hz float64) bool
	// AboutS is about by how much At is late (s); NaN where nothing is known of that.
	AboutS float64
}

// Silence is the reading of a way of which nothing was heard but noise.
func Silence(way int) Reading {
	return Reading{Way: way, At: func(float64) complex128 { return 0 }, LowHz: 0, HighHz: math.MaxFloat64, AboutS: math.Inf(1)}
}

// Conditions are how units were measured.
type Conditions struct {
	// FitLevel and FitDelay tell that the level, or the delay, of a measurement means
	// nothing: one for all ways.
	FitLevel, FitDelay bool
	// DelayEach tells, with FitDelay, that each way has a delay of its own, as where they were recorded one after
	// the other: nothing is said of the phase between ways.
	DelayEach bool
	// LowHz and HighHz are between which anything is looked at.
	LowHz, HighHz float64
	// Phased tells that the phase is known, of all ways.
	Phased bool
}

const (
	// perOctave is how many frequencies an octave are looked at.
	perOctave = 6
	// downToDB is how far below its nominal peak a way is looked at, and floorDB what no
	// level is told from nothing below.
	downToDB, floorDB = -40.0, -60.0
	// unsure is the noise with which a frequency is left out, re the nominal response or, where that is greater,
	// what was measured.
	unsure = 0.3
	// usualNoise is that of a response of which it is not known, relative, and leastNoise what
	// the linear model of tolerances leaves: 0.01 and 0.005 dB.
	usualNoise, leastNoise = 0.01 * neper, 0.005 * neper
	// driftNoise is how far the level of a bench moves from way to way (0.02 dB), and
	// tiltNoise how far along a way, an octave (0.003 dB).
	driftNoise, tiltNoise = 0.02 * neper, 0.003 * neper
	// unknownLevel (2, in nepers) and unknownS (20 us) are how far level and delay may be off, where they are
	// fitted, from the first estimate; benchLevel and benchS (0.05 dB, 0.1 us) where not.
	unknownLevel, unknownS = 2.0, 20e-6
	benchLevel, benchS     = 0.05 * neper, 0.1e-6
)

// neper is one dB in nepers.
const neper = math.Ln10 / 20

// taken is a measurement at the frequencies of a bench.
type taken struct {
	h     [][]complex128 // by column and frequency, level and delay as first estimated taken out
	known [][]bool
	// gain (linear) was taken out, and delays (s) by column.
	gain   float64
	delays []float64

	whole *space    // of good units on this bench
	noise []float64 // by place, as h

	now     []complex128 // what it is compared with, by place
	apart   []float64
	phasors []phasor
	turns   []complex128
}

// delayRange is where the delay is sought (s). An impulse response is greatest some time
// later than it begins, the lower the way the later.
func delayRange(readings []Reading) (from, to float64) {
	least := math.Inf(1)
	for _, r := range readings {
		least = math.Min(least, r.AboutS) // NaN stays
	}
	if math.IsNaN(least) || math.IsInf(least, 1) {
		return -0.002, 0.05
	}
	return least - 0.01, least + 0.002
}

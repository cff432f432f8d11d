// Package sweep makes the stimulus that a finished unit is measured with.
//
// The stimulus is a sine whose frequency rises exponentially with time (A. Farina,
// "Simultaneous measurement of impulse response and distortion with a swept-sine technique",
// 108th AES Convention, 2000). Numbers come in, samples go out. The one invariant: no sample
// is beyond the level that is asked for.
//
// Read first: Sweep.
package sweep

import (
	"fmt"
	"math"

	"bandwright/biquad"
)

// Sweep is an exponential sweep: silence of LeadS, then a sine from LowHz to HighHz in
// LengthS, then silence of TailS, in which a unit comes to rest.
type Sweep struct {
	RateHz        int
	LowHz, HighHz float64
	LengthS       float64
	LevelDBFS     float64 // of the sine; 0 for one of full scale
}

// What a sweep may be. Loudest leaves a converter's filters some room; Longest is more
// than any unit on a desk needs.
const (
	LeadS, TailS              = 0.5, 1.5
	DefaultDBFS               = -20.0
	LoudestDBFS, QuietestDBFS = -1.0, -80.0
	DefaultS                  = 5.0
	ShortestS, LongestS       = 1.0, 60.0
	LowestRate, HighestRate   = 8000, 768000
	// lowHz and highHz (Hz) are where sweeps begin and end: an octave below what is heard,
	// as the sine fades in over it, and a little above.
	lowHz, highHz = 10.0, 24000.0
	// ofRate is how much of the rate a sweep reaches at most: the last part fades out.
	ofRate = 0.49
)

// New is the sweep at a rate (Hz), of a length (s) and a level (dBFS).
func New(rateHz int, lengthS, levelDBFS float64) Sweep {
	return Sweep{RateHz: rateHz, LowHz: lowHz, HighHz: math.Min(highHz, ofRate*float64(rateHz)), LengthS: lengthS, LevelDBFS: levelDBFS}
}

// octaves is how many the sweep passes.
func (s Sweep) octaves() float64 { return math.Log2(s.HighHz / s.LowHz) }

// fadeOctaves are those over which the sine comes up at the start; at the end it goes
// down over an eighth of it.
const fadeOctaves, endOctaves = 1.0, 0.125

// Samples are the stimulus, full scale 1.
func (s Sweep) Samples() []float64 {
	rate := float64(s.RateHz)
	lead, n := int(math.Round(LeadS*rate)), int(math.Round(s.LengthS*rate))
	out := make([]float64, lead+n+int(math.Round(TailS*rate)))
	amplitude := biquad.FromDB(s.LevelDBFS)
	perOctave := s.LengthS / s.octaves()
	cycles := s.LowHz * perOctave / math.Ln2 // of the sine in the time in which its frequency would grow by e, at the start
	for i := range n {
		t := float64(i) / rate
		turns := cycles * math.Expm1(t/perOctave*math.Ln2)
		x := amplitude * math.Sin(2*math.Pi*(turns-math.Floor(turns)))
		out[lead+i] = x * raised(t/(fadeOctaves*perOctave)) * raised((s.LengthS-t)/(endOctaves*perOctave))
	}
	return out
}

// raised is a raised cosine from 0 at 0 to 1 at 1, and 1 beyond.
func raised(x float64) float64 {
	if x >= 1 {
		return 1
	}
	return (1 - math.Cos(math.Pi*math.Max(0, x))) / 2
}

// Cautions are what whoever plays a sweep has to know, in one line of plain ASCII.
const Cautions = "CAUTION: a sweep can destroy drivers and hearing. Measure boards without loudspeakers. A way with its driver: start from the lowest level, " +
	"treble behind a protective capacitor, and never below its crossover at level."

// String says what the stimulus is.
func (s Sweep) String() string {
	return fmt.Sprintf("exponential sweep from %g Hz to %g Hz in %g s, %g dBFS, %d Hz, %g s of silence before and %g s behind it",
		s.LowHz, s.HighHz, s.LengthS, s.LevelDBFS, s.RateHz, LeadS, TailS)
}

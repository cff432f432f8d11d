package verify

import (
	"math"

	"bandwright/biquad"
)

// Figures are what was measured of one way (or of the sum) in one realisation,
// promise or not: the numbers behind the findings and the report's tables.
type Figures struct {
	Realisation string
	Way         string  // "sum" for the sum of the ways
	Magnitude   Extreme // dB, signed: realised over prototype
	Phase       Extreme // degrees, after the common delay; ways with a neighbour only
	GroupDelay  Extreme // seconds, after the common delay
	// TopOctave is the worst magnitude error in the upper octave of the band.
	TopOctave Extreme
	// Peak is the greatest level of the output, dB re full scale, for a
	// full-scale sine at the input, input attenuation included.
	Peak Extreme
	// L1DBFS bounds the output for any input inside full scale, in Peak's
	// combination (dB re full scale).
	L1DBFS     float64
	NoiseDBFS  Extreme
	PoleMargin float64 // 1 - |z| of the outermost pole over all alternatives
	LatencyS   float64 // pure delay, the common one included
	Sections   int
	// Of a board alone. NoiseV and NoiseAV (V RMS, 20 Hz to 20 kHz, unweighted and
	// A-weighted) and OffsetV (V, the greatest magnitude of DC) are at the output;
	// ClipV (V RMS) is the least sine at the input with which an op-amp of the way
	// clips, and OverdriveDB by how much the sine of the input's level exceeds what
	// clips in the same case.
	NoiseV, NoiseAV, OffsetV, ClipV, OverdriveDB Extreme
	// PeakAboveDB is by how much a way's greatest gain above the band exceeds its
	// greatest in the band.
	PeakAboveDB Extreme
}

// Extreme is a worst value with its place. Known is false where nothing was
// measured, e.g. the phase of a single way.
type Extreme struct {
	Known bool
	Value float64
	AtHz  float64
	With  []Choice    // one of every setting that matters
	C     Combination // the same as indices; nil where no setting matters
}

// zeroDBu is 0 dBu in V: 1 mW in 600 ohm.
var zeroDBu = math.Sqrt(0.6)

// DBu is a voltage (V RMS, > 0) in dBu.
func DBu(v float64) float64 { return biquad.GainDB(v / zeroDBu) }

// Of are the figures of one realisation.
func Of(all []Figures, realisation string) []Figures {
	var out []Figures
	for _, f := range all {
		if f.Realisation == realisation {
			out = append(out, f)
		}
	}
	return out
}

// WorstTopOctave is the worst magnitude error of any way in the upper octave of
// the band, and the way. It is not Known where no way reaches that high.
func WorstTopOctave(figures []Figures) (way string, worst Extreme) {
	for _, f := range figures {
		if f.TopOctave.Known && (!worst.Known || math.Abs(f.TopOctave.Value) > math.Abs(worst.Value)) {
			way, worst = f.Way, f.TopOctave
		}
	}
	return way, worst
}

// Package verify judges realisations against the prototype. It shares nothing
// with the designers but the evaluation of sections: a realisation is anything
// that has a response. Findings come out, one per promise, realisation and
// way, each with its worst combination of settings and the true maximum over
// frequency, never a sample of it.
//
// Read first: Realisation, Subject, Promises, Finding.
package verify

import "bandwright/biquad"

// Combination is one choice for every setting.
type Combination = biquad.Combination

// Realisation is anything with a response that promises can be held against:
// the ideal itself, a digital system at one rate and format, later a board or
// a measurement.
type Realisation interface {
	// Name is how findings call it: "digital 48 kHz float32".
	Name() string
	// On prepares responses at the frequencies hz (Hz). The result is for one
	// goroutine; On itself may be called by several.
	On(hz []float64) Responder
	// At writes a way's response in one combination at a few frequencies.
	At(dst []complex128, way int, c Combination, hz []float64)
	// Landmarks are places where a way's response changes quickly. The search
	// for maxima looks there as well as on its grid.
	Landmarks(way int) []Landmark
	// CommonDelayS says how much later every way is than its prototype (s).
	CommonDelayS() float64
}

// Landmark is the frequency of a pole, a zero or a corner (Hz), with the Q that
// says how narrow it is; infinite for a zero on the frequency axis.
type Landmark struct{ Hz, Q float64 }

// Responder writes the complex response of a way (input to output, common
// filters and polarity included) in one combination, one element a frequency.
type Responder interface {
	Response(dst []complex128, way int, c Combination)
}

// Limit is a promise's limit; a promise that the spec drops is not On.
type Limit struct {
	On    bool
	Value float64
}

// Promises are the limits that a spec demands, in the units of their names.
type Promises struct {
	LowHz, HighHz float64 // band
	DownToDB      float64 // < 0: magnitude is judged this far below a way's peak
	MagnitudeDB   Limit
	// BoardMagnitudeDB is what a board is held to in place of MagnitudeDB, down
	// to BoardDownToDB.
	BoardMagnitudeDB Limit
	BoardNoiseDBu    Limit // at a way's output, 20 Hz to 20 kHz unweighted
	BoardHeadroomDB  Limit // every op-amp at least this far below clipping
	PhaseDeg         Limit
	SumDB            Limit
	NoiseDBFS        Limit
	HeadroomDB       Limit // every level at least this far below full scale
	LatencyS         Limit
}

// BoardDownToDB is how far below a way's peak a board's magnitude counts (dB):
// what lies lower hangs on the op-amp and on strays more than on parts.
const BoardDownToDB = -40

// Setting is a setting's name and its choices as written.
type Setting struct {
	Name    string
	Choices []string
}

// Choice is one setting's choice in a finding.
type Choice struct{ Setting, Choice string }

// Finding says whether one promise is kept by one realisation, for one way or
// for the sum, and by how much, in its worst combination of settings.
type Finding struct {
	Promise, Realisation string
	Way                  string // "" for what belongs to all ways, "sum" for the sum
	Setting              []Choice
	Limit, Worst         float64
	Unit                 string
	AtHz                 float64 // 0 where no frequency belongs to it
	Kept                 bool
	Broken, Of           int    // combinations that break it, of how many
	Remedy               string // what to change; "" where kept
	Note                 string // a restriction that the reader must know, or ""
}

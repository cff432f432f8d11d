// Package discretize turns analog cascades into digital ones at one sampling
// rate. A prototype system and goals as plain numbers come in, an ideal
// (unrounded) digital system goes out with the one common delay that the
// method declares and an audit of its safety. The one invariant: every section
// that goes out is stable.
//
// Each method is one row of Methods. Read first: Method, Job, Made; then
// magnitude.go and systemfit.go for what the method fit does.
package discretize

import (
	"context"

	"bandwright/biquad"
)

// Job is what a method is asked for.
type Job struct {
	// Prototype is what is asked for; a position's Method goes before the method
	// that is asked.
	Prototype biquad.System[biquad.Analog]
	RateHz    float64
	// LowHz to HighHz is the band that goals hold in; HighHz ≤ 0.46·RateHz.
	LowHz, HighHz float64
	// DownToDB (< 0) is how far below its peak a way's magnitude counts.
	DownToDB float64
	Goals    Goals
	// SectionBySection keeps every section to itself, so that a changed filter
	// changes only its own coefficients.
	SectionBySection bool
}

// Goals are the limits that the realisation should keep, as plain numbers.
type Goals struct {
	MagnitudeDB float64 // of each way
	SumDB       float64 // of the sum of the ways
	PhaseDeg    float64 // of ways that sum, after the common delay
	// ExtraBiquads is how many biquads a way may have beyond the prototype's
	// sections, where a goal would be missed.
	ExtraBiquads int
	// DelayDeg is the phase error (degrees) that realising a delay may use up,
	// DelayToHz for each way the highest frequency (Hz) at which its phase
	// against a neighbour matters; 0 where it never does.
	DelayDeg  float64
	DelayToHz []float64
}

// Made is what a method returns.
type Made struct {
	System biquad.System[biquad.Digital] // How of every position filled in
	// CommonDelayS says how much later (negative: earlier) every realised way
	// is than its prototype, in seconds.
	CommonDelayS float64
	// CommonNote and WayNotes say where a method had to fall back; "" where not.
	CommonNote string
	WayNotes   []string
}

// Method is one row of the table of methods.
type Method struct {
	Name, Doc string
	// BelowNyquist is true where a corner at or above half the rate cannot be
	// realised at all.
	BelowNyquist bool
	// Realise makes a whole system. The prototype's sections must be stable. The
	// error is that of a cancelled context, or of a section that cannot be made.
	Realise func(context.Context, Job) (Made, error)
	// Section realises one section by itself, with what it did in words.
	Section func(a biquad.Analog, j Job) (d biquad.Digital, how string, err error)
}

// Methods is every method, in the order that documentation lists them; the
// first is the default. It is a function because the
// rows' own functions look each other up.
func Methods() []Method { return []Method{fit(), magnitudeMatched(), bilinear()} }

// ByName finds a method's row.
func ByName(name string) (Method, bool) {
	for _, m := range Methods() {
		if m.Name == name {
			return m, true
		}
	}
	return Method{}, false
}

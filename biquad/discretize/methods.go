// Package discretize turns analog cascades into digital ones at one sampling
// rate. A prototype system and goals as plain numbers come in, an ideal
// (unrounded) digital system goes out with the one common delay that the
// method declares and an audit of its safety. The one invariant: every section
// that goes out is stable.
//
// Each method is one row of Methods. Read first: Method, Job, Made.
package discretize

import "bandwright/biquad"

// Job is what a method is asked for.
type Job struct {
	Prototype biquad.System[biquad.Analog]
	RateHz    float64
	// LowHz to HighHz is the band that goals hold in; HighHz ≤ 0.46·RateHz.
	LowHz, HighHz float64
	Goals         Goals
}

// Goals are the limits that the realisation should keep, as plain numbers.
type Goals struct {
	// PhaseDeg is the phase error that a way may have (degrees).
	PhaseDeg float64
	// PhaseToHz is, for each way, the highest frequency (Hz) at which its phase
	// against a neighbour matters; 0 where it never does.
	PhaseToHz []float64
}

// Made is what a method returns.
type Made struct {
	System biquad.System[biquad.Digital]
	// CommonDelayS says how much later (negative: earlier) every realised way
	// is than its prototype, in seconds.
	CommonDelayS float64
}

// Method is one row of the table of methods.
type Method struct {
	Name, Doc string
	// BelowNyquist is true where a corner at or above half the rate cannot be
	// realised at all.
	BelowNyquist bool
	Realise      func(Job) (Made, error)
}

// Methods is every method, in the order that documentation lists them.
var Methods = []Method{bilinear}

// ByName finds a method's row.
func ByName(name string) (Method, bool) {
	for _, m := range Methods {
		if m.Name == name {
			return m, true
		}
	}
	return Method{}, false
}

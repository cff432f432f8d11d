// Package acoustic says what drivers do with the volts of their amplifiers: pressure
// on and off the axis, excursion, the load that the amplifier sees. Parameters of
// drivers and mountings come in, functions of frequency go out, or problems that show
// the arithmetic. All of it is small-signal and linear; no cone breaks up, nothing gets
// warm, no room reflects.
//
// The one invariant: everything is per volt RMS at the terminals of a way's drivers, in
// the far field, referred to 1 m by 1/r, with the time that sound takes to there left
// out, so that modelled and measured ways sum.
//
// Read first: Source, Parameters, Mounted.
package acoustic

import "bandwright/compiler/language"

// The air, dry at 20 °C and 1013 hPa: density (kg/m³), speed of sound (m/s).
const (
	Density      = 1.204
	SpeedOfSound = language.SpeedOfSound
)

// ReferencePa is the pressure of 0 dB (Pa RMS).
const ReferencePa = 20e-6

// stiffness (Pa) of the air, adiabatic: what volumes spring with.
const stiffness = Density * SpeedOfSound * SpeedOfSound

// Source is what the drivers of a way make of a volt. hz > 0.
type Source interface {
	// Pressure at 1 m (Pa for 1 V), so many degrees off the axis, 0 to 180. Without
	// Directs only 0 degrees is known, and every angle reads like it.
	Pressure(hz, degrees float64) complex128
	// Directs reports whether it is known off the axis.
	Directs() bool
	// Covers is the range that it is known in (Hz); 0 and +Inf of a model. Outside of it
	// the pressure is that of the nearer end.
	Covers() (lowHz, highHz float64)
}

// Load is a source that says what its amplifier sees.
type Load interface {
	// Impedance of all drivers of the way together (ohm).
	Impedance(hz float64) complex128
}

// Moving is a source that says how far its cones move.
type Moving interface {
	// Excursion is peak metres for a sine of 1 V peak: of a sine of 1 V RMS √2 times as
	// much. hz may be 0, for DC.
	Excursion(hz float64) complex128
	// ExcursionM is how far they may move to one side (m); 0 where nobody says.
	ExcursionM() float64
}

// Problem is what is wrong with a key of a driver or a mounting.
type Problem struct{ Key, Message, Right string }

package acoustic

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
)

// System is a loudspeaker from its amplifiers' inputs to the air.
type System struct {
	Ways []Way
	// Hz is where levels are looked at first: from 5 Hz, whatever is promised, as cones move
	// most where nobody listens.
	Hz []float64
	// of each way at each of Hz, for 1 V at the amplifier's input: pressure (Pa at 1 m,
	// later by the setback), peak excursion (m per V RMS), current (A per V).
	pressure           [][]complex128
	excursion, current [][]float64
}

// Way is one way of it.
type Way struct {
	Name   string
	Source Source // nil where the spec does not say
	Amplifier
	SetbackS float64
	// Notes say what was taken for what a measured response does not have.
	Notes []string
}

// Amplifier is a power amplifier: linear gain, RMS limits of a sine (0 where nobody says).
type Amplifier struct {
	Known          bool // without, the gain is 1
	Gain           float64
	LimitV, LimitA float64
	DC             bool
}

const lowestHz, highestHz = 5, 20e3

// PerOctave is how many frequencies of a System lie in an octave.
const PerOctave = 24

// New puts the sources of a spec's ways, nil where there is none, behind their amplifiers.
func New(s *language.Spec, sources []Source, notes [][]string) *System {
	out := &System{Hz: biquad.Octaves(lowestHz, highestHz, PerOctave)}
	for i, w := range s.Ways {
		x := Way{Name: w.Name, Source: sources[i], Amplifier: amplifierOf(w.Amplifier), Notes: notes[i]}
		if w.Driver != nil {
			x.SetbackS = w.Driver.SetbackM / SpeedOfSound
		}
		out.Ways = append(out.Ways, x)
		var p []complex128
		var moves, amperes []float64
		for _, f := range out.Hz {
			p = append(p, x.Pressure(f, 0))
			moves, amperes = append(moves, x.moves(f)), append(amperes, x.draws(f))
		}
		out.pressure, out.excursion, out.current = append(out.pressure, p), append(out.excursion, moves), append(out.current, amperes)
	}
	return out
}

// amplifierOf is an amplifier as the spec has it.
func amplifierOf(a *language.Amplifier) Amplifier {
	if a == nil {
		return Amplifier{Gain: 1, DC: true}
	}
	out := Amplifier{Known: true, Gain: biquad.FromDB(a.GainDB), LimitA: a.CurrentA, DC: a.DC}
	if a.PowerW > 0 {
		out.LimitV = math.Sqrt(a.PowerW * a.IntoOhm)
		if out.LimitA == 0 {
			out.LimitA = math.Sqrt(a.PowerW / a.IntoOhm)
		}
	}
	return out
}

// Pressure is at 1 m, so many degrees off the axis, for 1 V at the amplifier's input (Pa);
// 0 of a way without a driver.
func (w *Way) Pressure(hz, degrees float64) complex128 {
	if w.Source == nil {
		return 0
	}
	return w.Source.Pressure(hz, degrees) * complex(w.Gain, 0) * biquad.Delay(hz, w.SetbackS)
}

// moves is the peak excursion for 1 V RMS at the amplifier's input (m), 0 where it is not
// known.
func (w *Way) moves(hz float64) float64 {
	if m, ok := w.Source.(Moving); ok {
		return math.Sqrt2 * math.Sqrt(biquad.Power(m.Excursion(hz))) * w.Gain
	}
	return 0
}

// draws is the current (A RMS) for 1 V at the amplifier's input, 0 where it is not known.
func (w *Way) draws(hz float64) float64 {
	if l, ok := w.Source.(Load); ok {
		return w.Gain / math.Sqrt(biquad.Power(l.Impedance(hz)))
	}
	return 0
}

// LimitM is how far the way's cones may move to one side (m), 0 where nobody says.
func (w *Way) LimitM() float64 {
	if m, ok := w.Source.(Moving); ok {
		return m.ExcursionM()
	}
	return 0
}

// Whole reports whether every way has a driver, so that the sum in the air is known.
func (s *System) Whole() bool {
	for _, w := range s.Ways {
		if w.Source == nil {
			return false
		}
	}
	return true
}

// Rows are the names of the ways with several drivers, which count as one place.
func (s *System) Rows() (out []string) {
	for _, w := range s.Ways {
		if m, ok := w.Source.(*Mounted); ok && m.count > 1 {
			out = append(out, w.Name)
		}
	}
	return out
}

// Count is how many drivers the way has.
func (m *Mounted) Count() int { return int(m.count) }

// DC is what direct volts at an amplifier's input do to the coil behind it: volts, watts
// that heat it, and by how much they hold the cone out (m). known is false where the way
// has no model, no amplifier, or one that blocks DC.
func (w *Way) DC(atInput float64) (v, watt, m float64, known bool) {
	x, ok := w.Source.(*Mounted)
	if !ok || !w.Known || !w.Amplifier.DC {
		return 0, 0, 0, false
	}
	v = atInput * w.Gain
	return v, v * v / x.dcOhm(), v * real(x.Excursion(0)), true
}

// Axis is a response on the axis (Pa at 1 m for 1 V, the flight taken out), with the range
// that it was measured in (Hz).
type Axis struct {
	At        func(hz float64) complex128
	Low, High float64
	// RadiusM is the cone's, 0 where it is not known.
	RadiusM float64
}

// Pressure implements Source: off the axis as a piston's, where the cone is known.
func (a *Axis) Pressure(hz, degrees float64) complex128 {
	p := a.At(hz)
	if a.RadiusM > 0 {
		p *= complex(Piston(a.RadiusM, hz, min(degrees, 90)), 0)
	}
	return p
}

// Directs implements Source.
func (a *Axis) Directs() bool { return a.RadiusM > 0 }

// Covers implements Source.
func (a *Axis) Covers() (lowHz, highHz float64) { return a.Low, a.High }

// LeastOhm is the least magnitude of a way's load (ohm) and where it is (Hz); 0 where it is
// not known.
func (s *System) LeastOhm(way int) (ohm, hz float64) {
	for i, f := range s.Hz {
		if a := s.current[way][i]; a > 0 {
			if z := s.Ways[way].Gain / a; ohm == 0 || z < ohm {
				ohm, hz = z, f
			}
		}
	}
	return ohm, hz
}

// Holds are the greatest levels re full scale (dB, rounded down to a tenth) at which a
// strain is within the driver's excursion and what the amplifier gives; nil where there is
// no limit, or the gain of the amplifier is not known.
func (w *Way) Holds(s Strain) (excursion, amplifier *float64) {
	if !w.Known {
		return nil, nil
	}
	hold := func(now *float64, is, limit float64) *float64 {
		if !(limit > 0) || !(is > 0) {
			return now
		}
		if x := HoldsDB([]float64{is}, limit); now == nil || x < *now {
			return &x
		}
		return now
	}
	return hold(nil, s.Excursion.Value, w.LimitM()), hold(hold(nil, s.Volts.Value, w.LimitV), s.Amperes.Value, w.LimitA)
}

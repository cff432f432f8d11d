// Package measured reads what a measuring program wrote of a loudspeaker or a circuit:
// a table of frequency, level and phase, or the samples of an impulse response. Bytes come
// in, a complex response at any frequency goes out, or faults with their places. The one
// invariant: what a Response returns is finite.
//
// Read first: Read, Response, Source.
package measured

import (
	"bytes"
	"fmt"
	"math"
	"sort"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// Response is a measured response. Between its points level (dB) and phase (unwrapped) are
// interpolated straight over the logarithm of frequency. Outside them the level goes on
// as tail says, and the phase as that of a minimum-phase system with that level.
type Response struct {
	file   string
	points []point // ascending in frequency
	// delayS (s) is the delay that the points' phases leave out: a whole number of samples
	// of an impulse response, 0 for a table.
	delayS  float64
	phased  bool // the file says what the phase is
	minimum minimum
	notes   []string
}

// point is one of a response: natural logarithm of the frequency in Hz, level in dB, phase
// in radians without jumps.
type point struct{ ln, db, rad float64 }

// Read reads a file. One that begins as RIFF files do is an impulse response, any other a
// table; file is the name that faults and notes carry. With an error the response is nil.
//
// A table has a line for each frequency: Hz, dB and, where known, degrees, between them
// commas, tabs or spaces; from a # on a line is comment. Frequencies ascend. Degrees are either
// wrapped (within ±180, or 0 to 360) or run on.
//
// An impulse response is a file of samples with one channel: its first sample is the
// moment of the impulse, 1 is 0 dB.
//
// A table without degrees gets the phase of the minimum-phase system of its level, which
// Notes says.
func Read(file string, data []byte) (*Response, []language.Fault) {
	r := &reader{file: file}
	var out *Response
	if bytes.HasPrefix(data, []byte("RIFF")) {
		out = r.impulse(data)
	} else {
		out = r.table(data)
	}
	for _, f := range r.faults {
		if f.Severity == language.Error {
			language.Sort(r.faults)
			return nil, r.faults
		}
	}
	out.minimum = minimumOf(out.points)
	if !out.phased {
		for i, p := range out.points { // where the phase beyond the points begins
			out.points[i].rad = out.minimum.at(p.ln)
		}
		from, to := out.Span()
		out.note("%s says no phase: it is that of a minimum-phase system of this level, which goes on below %s with %s and above %s with %s; what delay there was is not known",
			file, words.Hz(from), out.minimum.low.says(), words.Hz(to), out.minimum.high.says())
	}
	return out, r.faults
}

func (r *Response) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

// Notes are sentences on what the file does not say and what was taken instead.
func (r *Response) Notes() []string { return r.notes }

// Span (Hz) is from where to where was measured.
func (r *Response) Span() (from, to float64) {
	return hz(r.points[0].ln), hz(r.points[len(r.points)-1].ln)
}

// HasPhase is whether the file says the phase.
func (r *Response) HasPhase() bool { return r.phased }

// At is the response as measured, with all its delay, at a frequency > 0 in Hz: 1 is 0 dB.
func (r *Response) At(f float64) complex128 {
	db, rad := r.smooth(math.Log(f))
	return polar(biquad.FromDB(db), rad-2*math.Pi*f*r.delayS)
}

// smooth is level (dB) and phase (radians) at a frequency, without delayS.
func (r *Response) smooth(ln float64) (db, rad float64) {
	p := r.points
	last := len(p) - 1
	switch {
	case ln < p[0].ln:
		return p[0].db + r.minimum.low.beyond(p[0].ln-ln), p[0].rad + r.minimum.at(ln) - r.minimum.at(p[0].ln)
	case ln > p[last].ln:
		return p[last].db + r.minimum.high.beyond(ln-p[last].ln), p[last].rad + r.minimum.at(ln) - r.minimum.at(p[last].ln)
	}
	i := min(max(sort.Search(len(p), func(i int) bool { return p[i].ln >= ln }), 1), last)
	t := (ln - p[i-1].ln) / (p[i].ln - p[i-1].ln)
	db, rad = p[i-1].db+t*(p[i].db-p[i-1].db), p[i-1].rad+t*(p[i].rad-p[i-1].rad)
	if !r.phased {
		rad = r.minimum.at(ln)
	}
	return db, rad
}

// hz is e to the power of ln, in a way that no processor does differently.
func hz(ln float64) float64 { return math.Exp2(ln / math.Ln2) }

// polar is a complex number from its magnitude and phase.
func polar(gain, rad float64) complex128 {
	s, c := math.Sincos(math.Remainder(rad, 2*math.Pi))
	return complex(gain*c, gain*s)
}

package measured

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// Conditions are those that a loudspeaker was measured under.
type Conditions struct {
	DriveV    float64 // rms, across the driver; > 0
	DistanceM float64 // from the driver to the microphone; > 0
	// Absolute is whether time begins when the signal leaves the amplifier, so that the phase
	// holds the time that the sound travels. Otherwise it begins at some other moment, which
	// says nothing.
	Absolute bool
}

// Source is a measured loudspeaker as a source of sound, in the terms of a modelled one.
type Source struct {
	r      *Response
	gain   float64
	leadS  float64 // what is taken out of the delay
	reason string
}

const (
	// SoundMS is the speed of sound at 20 °C in m/s.
	SoundMS = 343.0
	// ReferencePa is the pressure (Pa, rms) of 0 dB of a sound pressure level.
	ReferencePa = 20e-6
)

// Under takes the response as sound pressure levels, in dB above 20 µPa, that were
// measured under some conditions. Where time is not absolute, the delay is taken out that makes
// the phase most like that of a minimum-phase system, as a driver has by itself; Notes says so.
func (r *Response) Under(c Conditions) *Source {
	s := &Source{r: r, gain: ReferencePa / c.DriveV * c.DistanceM}
	switch {
	case !r.phased:
	case c.Absolute:
		s.leadS = c.DistanceM / SoundMS
	default:
		s.leadS = r.excessS()
		s.reason = "the time of " + r.file + " is relative: the " + words.Seconds(s.leadS) + " are taken out of it that its phase differs by from that of a minimum-phase system, and with them the depth at which the driver sits"
	}
	return s
}

// At is the sound pressure (Pa) for 1 V across the driver, 1 m in front of it, without the
// time that sound takes for that metre, at a frequency > 0 in Hz.
func (s *Source) At(f float64) complex128 {
	db, rad := s.r.smooth(math.Log(f))
	return polar(s.gain*biquad.FromDB(db), rad-2*math.Pi*f*(s.r.delayS-s.leadS))
}

// Notes are those of the response, and one where time was made out of the phase.
func (s *Source) Notes() []string {
	if s.reason == "" {
		return s.r.notes
	}
	return append(slices.Clone(s.r.notes), s.reason)
}

// loudDB is how far below the greatest level the phase still counts for the delay.
const loudDB = 20

// excessS is the delay (s) by which the phase differs most nearly from that of a minimum-phase
// system, on points that are even over the logarithm of frequency. Either polarity will do.
func (r *Response) excessS() float64 {
	first, last := r.points[0].ln, r.points[len(r.points)-1].ln
	n := max(int((last-first)/math.Ln2*perOctave/4), leastPoints)
	var w, excess []float64 // rad/s, rad
	most := math.Inf(-1)
	for _, p := range r.points {
		most = max(most, p.db)
	}
	for i := range n + 1 {
		ln := first + (last-first)*float64(i)/float64(n)
		if db, rad := r.smooth(ln); db > most-loudDB {
			w, excess = append(w, 2*math.Pi*hz(ln)), append(excess, rad-r.minimum.at(ln))
		}
	}
	// The line excess = turned - w·delay, first with any turned, then with the nearest
	// whole number of half turns.
	turned, delay := line(w, excess)
	turned = math.Pi * math.Round(turned/math.Pi)
	top, bottom := 0.0, 0.0
	for i := range w {
		top += w[i] * (turned - excess[i])
		bottom += w[i] * w[i]
	}
	if len(w) > 2 {
		delay = top / bottom
	}
	return r.delayS + delay
}

// line is the line y = at - x·slope through points by least squares.
func line(x, y []float64) (at, slope float64) {
	n := float64(len(x))
	mx, my, xx, xy := 0.0, 0.0, 0.0, 0.0
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	for i := range x {
		xx, xy = xx+(x[i]-mx)*(x[i]-mx), xy+(x[i]-mx)*(y[i]-my)
	}
	if xx == 0 {
		return my, 0
	}
	return my - mx*xy/xx, -xy / xx
}

package verify

import "slices"

// Quantity is one thing that is measured of each way of a realisation, or of
// the sum of the ways.
type Quantity struct {
	// keep puts its worst value into a way's figures; nil where none holds it.
	keep func(f *Figures, e Extreme)
	// signed: a value may lie on either side of 0, and its size is what counts.
	signed bool
	// lessIsWorse: the least value is the worst.
	lessIsWorse bool
	// over is the quantity of figures[i] as a function of frequency, false where
	// there is none; nil for what realisations have to be read for.
	over func(j *judge, i int) (measure, bool)
	// level: it is sought among the realisation's own levels.
	level bool
	// batch: units of a batch are read for it.
	batch bool
}

// What is sought over frequency.
var (
	// Magnitude is realised over prototype (dB), of a way.
	Magnitude = &Quantity{signed: true, keep: func(f *Figures, e Extreme) { f.Magnitude = e }, over: ofWay((*judge).magnitude)}
	// TopOctave is Magnitude in the upper octave of the band.
	TopOctave = &Quantity{signed: true, keep: func(f *Figures, e Extreme) { f.TopOctave = e }, over: ofWay(func(j *judge, way int) measure {
		return topOctaveOf(j.magnitude(way), j.highHz/2)
	})}
	// GroupDelay is realised less prototype after the common delay (s), of a way.
	GroupDelay = &Quantity{signed: true, keep: func(f *Figures, e Extreme) { f.GroupDelay = e }, over: ofWay(func(j *judge, way int) measure {
		return groupDelayOf(way, j.s.WayAxes[way])
	})}
	// Phase is realised over prototype after the common delay (degrees), of a way
	// that has a neighbour.
	Phase = &Quantity{signed: true, keep: func(f *Figures, e Extreme) { f.Phase = e }, over: func(j *judge, i int) (measure, bool) {
		n := len(j.s.Ways)
		if i == n || n == 1 {
			return measure{}, false
		}
		return phaseOf(i, n, j.s.AllAxes, j.downToDB), true
	}}
	// Sum is the change of the summed ways' magnitude (dB).
	Sum = &Quantity{signed: true, keep: func(f *Figures, e Extreme) { f.Magnitude = e }, over: func(j *judge, i int) (measure, bool) {
		if i < len(j.s.Ways) {
			return measure{}, false
		}
		return sumOf(i, j.s.AllAxes, j.downToDB), true
	}}
	// Peak is the level of a way's output for a full-scale sine at the input, that
	// of the input's attenuation included (dBFS).
	Peak = &Quantity{level: true, keep: func(f *Figures, e Extreme) { f.Peak = e }, over: ofWay(func(j *judge, way int) measure {
		return peakOf(way, j.s.WayAxes[way], j.r.(FullScale).InputGain())
	})}
)

// What realisations are read for.
var (
	// PoleMargin is 1 - |z| of the outermost pole over all alternatives.
	PoleMargin = &Quantity{lessIsWorse: true, keep: func(f *Figures, e Extreme) { f.PoleMargin = e.Value }}
	// Noise is that of the arithmetic at a way's output (dBFS).
	Noise = &Quantity{keep: func(f *Figures, e Extreme) { f.NoiseDBFS = e }}
	// Latency is a way's pure delay, the common one included (s).
	Latency = &Quantity{keep: func(f *Figures, e Extreme) { f.LatencyS = e.Value }}
	// Sections is how many run for every sample of a way.
	Sections = &Quantity{keep: func(f *Figures, e Extreme) { f.Sections = int(e.Value) }}
	// NoiseV and NoiseAV are the noise at a way's output (V RMS, 20 Hz to 20 kHz),
	// unweighted and A-weighted.
	NoiseV  = &Quantity{keep: func(f *Figures, e Extreme) { f.NoiseV = e }}
	NoiseAV = &Quantity{keep: func(f *Figures, e Extreme) { f.NoiseAV = e }}
	// Offset is the greatest magnitude of DC at a way's output (V).
	Offset = &Quantity{keep: func(f *Figures, e Extreme) { f.OffsetV = e }}
	// Clip is the least sine at the input with which something in a way clips (V
	// RMS).
	Clip = &Quantity{lessIsWorse: true, keep: func(f *Figures, e Extreme) { f.ClipV = e }}
	// Overdrive is by how much (dB) the sine that the input is made for exceeds that.
	Overdrive = &Quantity{keep: func(f *Figures, e Extreme) { f.OverdriveDB = e }}
	// PeakAbove is how much a way's greatest gain above the band exceeds that in it
	// (dB).
	PeakAbove = &Quantity{keep: func(f *Figures, e Extreme) { f.PeakAboveDB = e }}
	// Excess is how far a way rises where its prototype is quiet (dB).
	Excess = &Quantity{}
)

// What batches are read for.
var (
	// Spread is how far from the prototype (dB) a promised share of all units stays
	// within, every way and the sum.
	Spread = &Quantity{batch: true}
	// Match is how far from each other (dB) the same share of pairs of units is.
	Match = &Quantity{batch: true}
	// Yield is the share (0 to 1) of units of which every way and the sum stay within
	// what is promised of them.
	Yield = &Quantity{lessIsWorse: true, batch: true}
)

// The quantities in the order that they are measured and found on in: over
// frequency, read, read for safety, and read of batches.
var (
	sought = []*Quantity{Magnitude, TopOctave, GroupDelay, Phase, Sum, Peak}
	read   = [][]*Quantity{{PoleMargin, Noise, Latency, Sections, NoiseV, NoiseAV, Offset, Clip, Overdrive, PeakAbove}, {Excess}}
	units  = []*Quantity{Spread, Match, Yield}
)

// ofWay is a quantity that every way has and the sum has not.
func ofWay(of func(j *judge, way int) measure) func(*judge, int) (measure, bool) {
	return func(j *judge, i int) (measure, bool) {
		if i == len(j.s.Ways) {
			return measure{}, false
		}
		return of(j, i), true
	}
}

// magnitude is a way's magnitude error as far down as it is judged.
func (j *judge) magnitude(way int) measure { return magnitudeOf(way, j.s.WayAxes[way], j.downToDB) }

// OfBatch reports whether units of a batch are read for it.
func (q *Quantity) OfBatch() bool { return q.batch }

// measured reports whether a quantity can be measured of a realisation.
func (q *Quantity) measured(r Realisation) bool {
	if q.level {
		_, ok := r.(FullScale)
		return ok
	}
	if q.batch {
		_, ok := r.(Batched)
		return ok
	}
	m, ok := r.(Meter)
	return q.over != nil || ok && slices.Contains(m.Reads(), q)
}

// worse reports whether a value is worse than another.
func (q *Quantity) worse(a, b float64) bool { return (a > b) != q.lessIsWorse && a != b }

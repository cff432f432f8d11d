package acoustic

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Angles are those that patterns are told at (degrees off the axis).
var Angles = [3]float64{30, 45, 60}

// every is the step of the series that results show, in points of System.Hz: six an
// octave.
const every = 4

// Shown are the frequencies of the series that results show (Hz), and their indices in
// System.Hz.
func (s *System) Shown() (hz []float64, at []int) {
	for i := 0; i < len(s.Hz); i += every {
		hz, at = append(hz, s.Hz[i]), append(at, i)
	}
	return hz, at
}

// Pattern is how a way radiates off the axis, which no setting changes.
type Pattern struct {
	Way string
	// EightToHz is where a dipole departs by 1 dB from a figure of eight, within 75 degrees
	// of the axis: 0 for what is none, +Inf where it does not.
	EightToHz float64
	// BeamsHz is where ka = 1, beyond which the cone beams; 0 where it is not known.
	BeamsHz float64
	// IndexDB is the directivity index, OffDB the level at each of Angles re the axis (dB),
	// at System.Shown.
	IndexDB []float64
	OffDB   [3][]float64
}

// leastOff (dB) is the least level off the axis that is told: what is below is a null.
const leastOff = -60

// offDB is a way's level so many degrees off the axis re that on it.
func (w *Way) offDB(hz, degrees float64) float64 {
	return math.Max(leastOff, biquad.DB(w.Source.Pressure(hz, degrees)/w.Source.Pressure(hz, 0)))
}

// Patterns are those of the ways that are known off the axis.
func (s *System) Patterns() []Pattern {
	hz, _ := s.Shown()
	var out []Pattern
	for k := range s.Ways {
		w := &s.Ways[k]
		if w.Source == nil || !w.Source.Directs() {
			continue
		}
		p := Pattern{Way: w.Name}
		switch x := w.Source.(type) {
		case *Mounted:
			p.BeamsHz = BeamsHz(x.radius)
			if _, ok := x.Dipole(); ok {
				p.EightToHz = w.eightTo(s.Hz)
			}
		case *Axis:
			p.BeamsHz = BeamsHz(x.RadiusM)
		}
		for _, f := range hz {
			p.IndexDB = append(p.IndexDB, DirectivityDB(w.Source, f))
			for i, a := range Angles {
				p.OffDB[i] = append(p.OffDB[i], w.offDB(f, a))
			}
		}
		out = append(out, p)
	}
	return out
}

// eightTo is where a dipole departs by 1 dB from cosθ.
func (w *Way) eightTo(hz []float64) float64 {
	const most = 1.0
	off := func(f float64) bool {
		for a := 15.0; a <= 75; a += 15 {
			if math.Abs(w.offDB(f, a)-20*math.Log10(math.Cos(a*math.Pi/180))) > most {
				return true
			}
		}
		return false
	}
	for i, f := range hz {
		if !off(f) {
			continue
		}
		if i == 0 {
			return f
		}
		low, high := hz[i-1], f
		for range 30 {
			if mid := math.Sqrt(low * high); off(mid) {
				high = mid
			} else {
				low = mid
			}
		}
		return high
	}
	return math.Inf(1)
}

// Meeting is where two neighbouring ways are equally loud on the axis, with how much
// louder the upper one is at each of Angles.
type Meeting struct {
	Lower, Upper string
	Hz           float64
	MismatchDB   [3]float64
}

// Worst is the mismatch that is greatest, and its angle.
func (m Meeting) Worst() (db, degrees float64) {
	for i, x := range m.MismatchDB {
		if math.Abs(x) > math.Abs(db) || i == 0 {
			db, degrees = x, Angles[i]
		}
	}
	return db, degrees
}

// meetings are those of neighbouring ways of which both are known off the axis, whose responses
// at hz are h: where they are loudest, if they meet more than once.
func (s *System) meetings(hz []float64, h [][]complex128) (out Meetings) {
	db := func(k int) []float64 {
		out := make([]float64, len(hz))
		for i := range out {
			out[i] = biquad.DB(h[k][i] * s.pressure[k][i])
		}
		return out
	}
	for k := 0; k+1 < len(s.Ways); k++ {
		lower, upper := &s.Ways[k], &s.Ways[k+1]
		if lower.Source == nil || upper.Source == nil || !lower.Source.Directs() || !upper.Source.Directs() {
			continue
		}
		a, b := db(k), db(k+1)
		at, loudest := 0.0, math.Inf(-1)
		for i := 1; i < len(a); i++ {
			before, after := a[i-1]-b[i-1], a[i]-b[i]
			if before > 0 && after <= 0 && a[i] > loudest {
				loudest = a[i]
				at = hz[i-1] * math.Exp2(before/(before-after)*math.Log2(hz[i]/hz[i-1]))
			}
		}
		if at == 0 {
			continue
		}
		m := Meeting{Lower: lower.Name, Upper: upper.Name, Hz: at}
		for i, angle := range Angles {
			m.MismatchDB[i] = upper.offDB(at, angle) - lower.offDB(at, angle)
		}
		out = append(out, m)
	}
	return out
}

// Region is from where to where two ways are within 20 dB of each other in a realisation's
// default setting, so that they sum (Hz); both 0 where nowhere.
func (s *System) Region(r verify.Realisation, settings int) (low, high float64) {
	on := r.On(s.Hz)
	c := make(verify.Combination, settings)
	db := make([][]float64, len(s.Ways))
	for k := range s.Ways {
		h := make([]complex128, len(s.Hz))
		on.Response(h, k, c)
		for i := range h {
			db[k] = append(db[k], biquad.DB(h[i]*s.pressure[k][i]))
		}
	}
	for i, f := range s.Hz {
		for k := range db {
			apart := func(n int) float64 { return db[n][i] - db[k][i] }
			if db[k][i] > peak(db[k])-2*biquad.NeighbourDB && biquad.NeighbourMarginDB(biquad.NeighbourDB, k, len(db), apart) >= 0 {
				if low == 0 {
					low = f
				}
				high = f
			}
		}
	}
	return low, high
}

// peak is the greatest of some levels.
func peak(db []float64) float64 {
	most := math.Inf(-1)
	for _, x := range db {
		most = math.Max(most, x)
	}
	return most
}

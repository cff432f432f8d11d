package acoustic

import "math"

// MismatchDB is how much louder the way above way k is off the axis at a frequency, where
// both are equally loud on it: at that of Angles where it is worst, with its sign. known is false
// where one of them is not known off the axis.
func (s *System) MismatchDB(k int, hz float64) (db, degrees float64, known bool) {
	lower, upper := &s.Ways[k], &s.Ways[k+1]
	if lower.Source == nil || upper.Source == nil || !lower.Source.Directs() || !upper.Source.Directs() {
		return 0, 0, false
	}
	for _, a := range Angles {
		if x := upper.offDB(hz, a) - lower.offDB(hz, a); math.Abs(x) >= math.Abs(db) {
			db, degrees = x, a
		}
	}
	return db, degrees, true
}

// MovesM is how far the cones of a way move (m, peak) for 1 V RMS at its amplifier's input;
// 0 where it is not known.
func (w *Way) MovesM(hz float64) float64 {
	if w.Source == nil {
		return 0
	}
	return w.moves(hz)
}

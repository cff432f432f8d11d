package discretize

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Inspection is what a realisation is measured by, apart from any fit's own
// metric.
type Inspection struct {
	// WorstDB is the largest |error| in dB inside the band, at WorstHz.
	WorstDB, WorstHz float64
	// PoleMargin is the least 1-|z| of the poles, MarginShare the same
	// relative to the least of the prototype's own poles mapped by e^(sT), or
	// to WideMargin where that is less.
	PoleMargin, MarginShare float64
	// StopDB is by how much the response exceeds the prototype's, or the
	// floor where that is higher, at frequencies of the band below the floor.
	// 0 where it does not.
	StopDB float64
	// UltrasonicDB is by how much the response between the band and half the
	// rate exceeds all of the prototype's there, the band's edge and the floor.
	UltrasonicDB float64
	// InternalDB is by how much the gain to a point between sections exceeds
	// both 0 dB and the greatest gain of the whole cascade.
	InternalDB float64
}

// Limits are what an audit must keep.
type Limits struct {
	MarginShare                      float64 // at least
	StopDB, UltrasonicDB, InternalDB float64 // at most
}

// Guarded are the limits of every accepted fit: those of Audit, within which
// a margin of a thousandth of the prototype's still decays within a thousand of
// its time constants, and a bit more than one bit of headroom between sections.
var Guarded = Limits{MarginShare: LeastMarginRatio, StopDB: MostExcessDB, UltrasonicDB: MostExcessDB, InternalDB: 8}

// WideMargin is the margin from which on a pole counts as well damped.
const WideMargin = 0.05

// Keeps reports whether the audit keeps the limits.
func (a Inspection) Keeps(l Limits) bool {
	return a.MarginShare >= l.MarginShare && a.StopDB <= l.StopDB && a.UltrasonicDB <= l.UltrasonicDB && a.InternalDB <= l.InternalDB
}

// auditPerDecade is the density of an audit's logarithmic grid: 0.6 % steps,
// refined where the error is greatest.
const auditPerDecade = 400

// Inspect audits digital sections, in their order, against analog ones over a
// band at rateHz.
func Inspect(as []biquad.Analog, ds []biquad.Digital, rateHz float64, band Band) Inspection {
	a := Inspection{PoleMargin: 1, MarginShare: math.Inf(1)}
	own := WideMargin
	for _, s := range as {
		for _, p := range s.Poles() {
			own = math.Min(own, -math.Expm1(real(p)/rateHz))
		}
	}
	for _, d := range ds {
		a.PoleMargin = math.Min(a.PoleMargin, d.PoleMargin())
	}
	a.MarginShare = a.PoleMargin / own
	top := math.Min(band.HighHz, 0.499*rateHz)
	n := int(auditPerDecade * math.Log10(top/band.LowHz))
	edge := biquad.FromDB(ahead(as, top))
	floor := biquad.FromDB(band.FloorDB)
	partial := make([]float64, len(ds))
	errorAt := func(hz float64, partials bool) (float64, float64, float64) {
		pt := biquad.PointAt(hz, rateHz)
		h := 1.0
		for i, d := range ds {
			h *= cmplx.Abs(d.At(pt))
			if partials {
				partial[i] = math.Max(partial[i], h)
			}
		}
		want := ahead(as, hz)
		got := biquad.GainDB(h)
		return got - want, want, got
	}
	step := math.Log2(top/band.LowHz) / float64(n)
	freq := func(x float64) float64 { return math.Min(top, band.LowHz*math.Exp2(x*step)) }
	for i := 0; i <= n; i++ {
		hz := freq(float64(i))
		e, want, got := errorAt(hz, true)
		if want > band.FloorDB {
			if e := math.Abs(e); e > a.WorstDB {
				a.WorstDB, a.WorstHz = e, hz
			}
		} else {
			a.StopDB = math.Max(a.StopDB, got-math.Max(want, band.FloorDB))
		}
	}
	// Refine around the worst place.
	if a.WorstDB > 0 {
		x := math.Log2(a.WorstHz/band.LowHz) / step
		for k := -20; k <= 20; k++ {
			hz := freq(x + float64(k)/20)
			if hz < band.LowHz {
				continue
			}
			if e, want, _ := errorAt(hz, false); want > band.FloorDB && math.Abs(e) > a.WorstDB {
				a.WorstDB, a.WorstHz = math.Abs(e), hz
			}
		}
	}
	limit := math.Max(edge, floor)
	const over = 200
	for k := 1; k <= over; k++ {
		hz := top + (0.5*rateHz-top)*float64(k)/over
		limit = math.Max(limit, biquad.FromDB(ahead(as, hz)))
	}
	for k := 1; k <= over; k++ {
		hz := top + (0.49999*rateHz-top)*float64(k)/over
		_, _, got := errorAt(hz, true)
		a.UltrasonicDB = math.Max(a.UltrasonicDB, got-biquad.GainDB(limit))
	}
	if m := len(partial); m > 0 {
		out := math.Max(1, partial[m-1])
		for _, p := range partial[:m-1] {
			a.InternalDB = math.Max(a.InternalDB, biquad.GainDB(p/out))
		}
	}
	return a
}

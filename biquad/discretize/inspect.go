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

// auditPerDecade is the density of an inspection's logarithmic grid: 0.6 % steps,
// refined where the error is greatest.
const auditPerDecade = 400

// Inspect audits digital sections, in their order, against analog ones over a
// band at rateHz.
func Inspect(as []biquad.Analog, ds []biquad.Digital, rateHz float64, band Band) Inspection {
	in := inspector{as: as, ds: ds, rateHz: rateHz, band: band, top: math.Min(band.HighHz, 0.499*rateHz), partial: make([]float64, len(ds))}
	in.margins()
	in.inBand()
	in.aboveBand()
	in.between()
	return in.Inspection
}

// inspector measures one realisation.
type inspector struct {
	Inspection
	as      []biquad.Analog
	ds      []biquad.Digital
	rateHz  float64
	band    Band
	top     float64   // Hz, the end of the band
	partial []float64 // greatest gain to behind each section
}

// margins looks at the poles.
func (in *inspector) margins() {
	in.PoleMargin = 1
	own := WideMargin
	for _, s := range in.as {
		for _, p := range s.Poles() {
			own = math.Min(own, -math.Expm1(real(p)/in.rateHz))
		}
	}
	for _, d := range in.ds {
		in.PoleMargin = math.Min(in.PoleMargin, d.PoleMargin())
	}
	in.MarginShare = in.PoleMargin / own
}

// at is the error and the wanted and the realised level at hz, in dB; partials
// says whether the gain between the sections is looked at as well.
func (in *inspector) at(hz float64, partials bool) (e, want, got float64) {
	pt := biquad.PointAt(hz, in.rateHz)
	h := 1.0
	for i, d := range in.ds {
		h *= cmplx.Abs(d.At(pt))
		if partials {
			in.partial[i] = math.Max(in.partial[i], h)
		}
	}
	want, got = ahead(in.as, hz), biquad.GainDB(h)
	return got - want, want, got
}

// inBand finds the largest error above the floor, and the largest excess below
// it.
func (in *inspector) inBand() {
	n := int(auditPerDecade * math.Log10(in.top/in.band.LowHz))
	step := math.Log2(in.top/in.band.LowHz) / float64(n) // octaves
	freq := func(steps float64) float64 { return math.Min(in.top, in.band.LowHz*math.Exp2(steps*step)) }
	for i := range n + 1 {
		hz := freq(float64(i))
		e, want, got := in.at(hz, true)
		if want <= in.band.FloorDB {
			in.StopDB = math.Max(in.StopDB, got-math.Max(want, in.band.FloorDB))
		} else if e = math.Abs(e); e > in.WorstDB {
			in.WorstDB, in.WorstHz = e, hz
		}
	}
	if in.WorstDB == 0 {
		return
	}
	const finer = 20 // parts of a step, around the worst place
	worst := math.Log2(in.WorstHz/in.band.LowHz) / step
	for k := -finer; k <= finer; k++ {
		hz := freq(worst + float64(k)/finer)
		if hz < in.band.LowHz {
			continue
		}
		if e, want, _ := in.at(hz, false); want > in.band.FloorDB && math.Abs(e) > in.WorstDB {
			in.WorstDB, in.WorstHz = math.Abs(e), hz
		}
	}
}

// aboveBand finds the largest excess between the band and half the rate.
func (in *inspector) aboveBand() {
	const over = 200
	limit := math.Max(biquad.FromDB(ahead(in.as, in.top)), biquad.FromDB(in.band.FloorDB))
	for k := 1; k <= over; k++ {
		hz := in.top + (0.5*in.rateHz-in.top)*float64(k)/over
		limit = math.Max(limit, biquad.FromDB(ahead(in.as, hz)))
	}
	for k := 1; k <= over; k++ {
		hz := in.top + (0.49999*in.rateHz-in.top)*float64(k)/over
		_, _, got := in.at(hz, true)
		in.UltrasonicDB = math.Max(in.UltrasonicDB, got-biquad.GainDB(limit))
	}
}

// between finds the largest gain to a point between sections.
func (in *inspector) between() {
	m := len(in.partial)
	if m == 0 {
		return
	}
	out := math.Max(1, in.partial[m-1])
	for _, p := range in.partial[:m-1] {
		in.InternalDB = math.Max(in.InternalDB, biquad.GainDB(p/out))
	}
}

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
	return newReference(as, rateHz, band).inspect(ds)
}

// reference is what realisations of the same sections are inspected against: the
// sections' levels at the frequencies that are looked at.
type reference struct {
	as     []biquad.Analog
	rateHz float64
	band   Band
	top    float64        // Hz, the end of the band
	step   float64        // octaves between frequencies of the band
	hz     []float64      // of the band, in steps of a grid
	pts    []biquad.Point // of the band, then of the range above it
	want   []float64      // dB, in the band
	most   float64        // dB, above it
	margin float64        // the least pole margin that sections so damped have
}

func newReference(as []biquad.Analog, rateHz float64, band Band) *reference {
	r := &reference{as: as, rateHz: rateHz, band: band, top: min(band.HighHz, 0.499*rateHz), margin: WideMargin}
	for _, s := range as {
		for _, p := range s.Poles() {
			r.margin = min(r.margin, -math.Expm1(real(p)/rateHz))
		}
	}
	n := int(auditPerDecade * math.Log10(r.top/band.LowHz))
	r.step = math.Log2(r.top/band.LowHz) / float64(n)
	for i := range n + 1 {
		hz := r.after(float64(i))
		r.hz, r.want = append(r.hz, hz), append(r.want, ahead(as, hz))
		r.pts = append(r.pts, biquad.PointAt(hz, rateHz))
	}
	const over = 200
	limit := max(biquad.FromDB(ahead(as, r.top)), biquad.FromDB(band.FloorDB))
	for k := 1; k <= over; k++ {
		hz := r.top + (0.5*rateHz-r.top)*float64(k)/over
		limit = max(limit, biquad.FromDB(ahead(as, hz)))
		r.pts = append(r.pts, biquad.PointAt(r.top+(0.49999*rateHz-r.top)*float64(k)/over, rateHz))
	}
	r.most = biquad.GainDB(limit)
	return r
}

// after is the frequency (Hz) so many steps, whole or not, above the band's lower
// edge.
func (r *reference) after(steps float64) float64 {
	return min(r.top, r.band.LowHz*math.Exp2(steps*r.step))
}

func (r *reference) inspect(ds []biquad.Digital) Inspection {
	in := Inspection{PoleMargin: 1}
	for _, d := range ds {
		in.PoleMargin = min(in.PoleMargin, d.PoleMargin())
	}
	in.MarginShare = in.PoleMargin / r.margin
	got, partial := gains(ds, r.pts)
	for i, want := range r.want {
		db := biquad.GainDB(got[i])
		if want <= r.band.FloorDB {
			in.StopDB = max(in.StopDB, db-max(want, r.band.FloorDB))
		} else if e := math.Abs(db - want); e > in.WorstDB {
			in.WorstDB, in.WorstHz = e, r.hz[i]
		}
	}
	if in.WorstDB > 0 {
		r.refine(&in, ds)
	}
	for _, g := range got[len(r.want):] {
		in.UltrasonicDB = max(in.UltrasonicDB, biquad.GainDB(g)-r.most)
	}
	if m := len(partial); m > 0 {
		out := max(1, partial[m-1])
		for _, p := range partial[:m-1] {
			in.InternalDB = max(in.InternalDB, biquad.GainDB(p/out))
		}
	}
	return in
}

// refine looks for a larger error around the worst frequency.
func (r *reference) refine(in *Inspection, ds []biquad.Digital) {
	const finer = 20 // parts of a step
	worst := math.Log2(in.WorstHz/r.band.LowHz) / r.step
	for k := -finer; k <= finer; k++ {
		hz := r.after(worst + float64(k)/finer)
		if hz < r.band.LowHz {
			continue
		}
		got, _ := gains(ds, []biquad.Point{biquad.PointAt(hz, r.rateHz)})
		want := ahead(r.as, hz)
		if e := math.Abs(biquad.GainDB(got[0]) - want); want > r.band.FloorDB && e > in.WorstDB {
			in.WorstDB, in.WorstHz = e, hz
		}
	}
}

// gains are the magnitudes of sections in series at each point, and the greatest
// of each section's output.
func gains(ds []biquad.Digital, pts []biquad.Point) (all, greatest []float64) {
	all, greatest = make([]float64, len(pts)), make([]float64, len(ds))
	for i := range all {
		all[i] = 1
	}
	h := make([]complex128, len(pts))
	for k, d := range ds {
		for i := range h {
			h[i] = 1
		}
		d.Multiply(h, pts)
		for i, v := range h {
			all[i] *= cmplx.Abs(v)
			greatest[k] = max(greatest[k], all[i])
		}
	}
	return all, greatest
}

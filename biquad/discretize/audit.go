package discretize

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
)

// The limits of the audit. They guard against what an error metric with a mask
// cannot see: poles on the unit circle, a stop band or an ultrasonic range that
// rises where no promise looks.
const (
	// LeastMarginRatio is the least pole margin allowed, as a share of the
	// analog poles' own.
	LeastMarginRatio = 1e-3
	// MostExcessDB is how far a stop band or the range above the band may rise
	// over what the prototype allows there.
	MostExcessDB = 3.0
)

// Audit is a way's safety in its worst combination of settings.
type Audit struct {
	// MarginRatio is the least digital pole margin over the least analog one.
	MarginRatio float64
	// UltrasonicDB is the greatest level above the band, up to half the rate,
	// over the prototype's greatest level from the band's upper edge on.
	UltrasonicDB, UltrasonicHz float64
	// StopBandDB is the greatest rise, in the band, over both the prototype and
	// its peak lowered by the mask.
	StopBandDB, StopBandHz float64
	// Unsafe of Of combinations pass a limit.
	Unsafe, Of int
}

// Safe reports whether all limits hold.
func (a Audit) Safe() bool { return a.Unsafe == 0 }

// ExcessDB is the greater of the two rises.
func (a Audit) ExcessDB() float64 { return max(a.UltrasonicDB, a.StopBandDB) }

// Violations says in words which limits do not hold; "" where all do.
func (a Audit) Violations() string {
	var v []string
	if !(a.MarginRatio >= LeastMarginRatio) {
		v = append(v, fmt.Sprintf("a pole has %.2g times the prototype's margin to the unit circle", a.MarginRatio))
	}
	if a.UltrasonicDB > MostExcessDB {
		v = append(v, fmt.Sprintf("above the band the level rises %.1f dB over the prototype's at %.0f Hz", a.UltrasonicDB, a.UltrasonicHz))
	}
	if a.StopBandDB > MostExcessDB {
		v = append(v, fmt.Sprintf("the stopband rises %.1f dB too high at %.0f Hz", a.StopBandDB, a.StopBandHz))
	}
	return strings.Join(v, "; ")
}

// auditPerOctave is the density of the audit's grid.
const auditPerOctave = 24

// AuditWay compares a realised path with its prototype at the sampling rate
// rateHz (Hz), in every combination of the path's settings out of that many.
// The band's floor (dB, < 0) is the mask that the error metric uses, relative to
// the path's own peak.
func AuditWay(proto biquad.Cascade[biquad.Analog], made biquad.Cascade[biquad.Digital], rateHz float64, band Band, settings int) Audit {
	a := Audit{MarginRatio: marginRatio(proto, made, rateHz), UltrasonicDB: biquad.GainDB(0), StopBandDB: biquad.GainDB(0)}
	in, above := biquad.Octaves(band.LowHz, band.HighHz, auditPerOctave), biquad.Octaves(band.HighHz, 0.4999*rateHz, auditPerOctave)
	wantIn, haveIn := levelsOf(biquad.OnAnalog(proto, in), len(in)), levelsOf(biquad.OnDigital(made, rateHz, in), len(in))
	// The prototype's highest level beyond the band is looked for far beyond
	// half the rate, where a transform may have squeezed it from.
	beyond := biquad.Octaves(band.HighHz, 100*rateHz, auditPerOctave)
	wantAbove, haveAbove := levelsOf(biquad.OnAnalog(proto, beyond), len(beyond)), levelsOf(biquad.OnDigital(made, rateHz, above), len(above))

	biquad.Each(biquad.Axes(proto), settings, func(c biquad.Combination) {
		want := wantIn(c)
		mask := slices.Max(want) + band.FloorDB
		// A prototype that has died away above the band allows what the mask does.
		most := max(slices.Max(wantAbove(c)), mask)
		ultra, stop := biquad.GainDB(0), biquad.GainDB(0)
		for i, db := range haveAbove(c) {
			if e := db - most; e > ultra {
				if ultra = e; e > a.UltrasonicDB {
					a.UltrasonicDB, a.UltrasonicHz = e, above[i]
				}
			}
		}
		for i, db := range haveIn(c) {
			if e := db - mask; want[i] <= mask && e > stop {
				if stop = e; e > a.StopBandDB {
					a.StopBandDB, a.StopBandHz = e, in[i]
				}
			}
		}
		a.Of++
		if ultra > MostExcessDB || stop > MostExcessDB || !(a.MarginRatio >= LeastMarginRatio) {
			a.Unsafe++
		}
	})
	return a
}

// levelsOf gives the levels (dB) of a responder over n frequencies in one
// combination after another, each time in the same slice.
func levelsOf(r *biquad.Responder, n int) func(biquad.Combination) []float64 {
	h, db := make([]complex128, n), make([]float64, n)
	return func(c biquad.Combination) []float64 {
		r.Response(h, c)
		for i, v := range h {
			db[i] = biquad.DB(v)
		}
		return db
	}
}

// marginRatio is the least digital pole margin over that of the analog poles,
// 1 - exp(σ/rate).
func marginRatio(proto biquad.Cascade[biquad.Analog], made biquad.Cascade[biquad.Digital], rateHz float64) float64 {
	analog, digital := 1.0, 1.0
	for _, s := range proto.Slots {
		for _, x := range s.Alt {
			for _, p := range x.Poles() {
				analog = min(analog, -math.Expm1(real(p)/rateHz))
			}
		}
	}
	for _, s := range made.Slots {
		for _, x := range s.Alt {
			digital = min(digital, x.PoleMargin())
		}
	}
	return digital / analog
}

package compiler

import (
	"context"
	"fmt"
	"io/fs"
	"math"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/measured"
	"bandwright/compiler/prototype"
	"bandwright/compiler/suggest"
	"bandwright/compiler/words"
)

// Plan is what a spec asks for, with the files that it names, before anything is built of
// it; nil where it cannot be made, with the faults that say why.
func Plan(file string, src []byte, folder fs.FS) (*Wanted, []language.Fault) {
	w, _, faults := wanted(source{file, src, folder}, Holding{Absent: true})
	return w, faults
}

// Equalising is a question for filters of a way.
type Equalising struct {
	Way int
	// Response was measured; nil for what the spec says of the way's driver.
	Response *measured.Response
	// Target is what the way shall become, as filters; none for flat. With one the
	// crossovers of the spec are not looked at.
	Target []prototype.Ideal
	// Wish has the bounds. Where FromHz or ToHz is 0, it ends where the target, or else the
	// way's crossovers, are rangeDB below their peak, or at the band's or the response's end.
	Wish suggest.Wish
}

// rangeDB is how far below its peak a way still counts.
const rangeDB = 15

// Equalised is the answer.
type Equalised struct {
	*suggest.Found
	Wish suggest.Wish // with the range that was looked at
}

// Equalise looks for the fewest filters that bring a way to its target. What the spec has
// for the way already counts with it, in the default choice of every setting; crossovers do not, as
// they are what makes a flat way the way that is wanted. The error is the context's, or says
// that there is nothing to go by.
func (w *Wanted) Equalise(ctx context.Context, q Equalising) (*Equalised, error) {
	driver, low, high, isMeasured := w.driverLevel(q)
	if driver == nil {
		return nil, fmt.Errorf("nothing is known of the driver of `%s`: give the way a `driver`, or name a measurement with --response", w.Spec.Ways[q.Way].Name)
	}
	sides := w.sides(q.Way)
	target := func(hz float64) float64 { return idealDB(q.Target, hz) }
	shape := target
	if len(q.Target) == 0 {
		shape = func(hz float64) float64 { return idealDB(sides, hz) }
	}
	own := func(hz float64) float64 {
		h := make([]complex128, 1)
		c := w.Design.Prototype.Ways[q.Way].Cascade
		biquad.AnalogAt(h, c, make(biquad.Combination, len(w.Settings)), []float64{hz})
		return biquad.DB(h[0]) - idealDB(sides, hz)
	}
	out := &Equalised{Wish: q.Wish}
	out.Wish.Response = func(hz float64) float64 { return driver(hz) + own(hz) }
	out.Wish.Target, out.Wish.IsMeasured = target, isMeasured
	from, to := heardRange(shape, max(low, w.Promises.LowHz), min(high, w.Promises.HighHz))
	if out.Wish.FromHz == 0 {
		out.Wish.FromHz = from
	}
	if out.Wish.ToHz == 0 {
		out.Wish.ToHz = to
	}
	switch {
	case out.Wish.FromHz < low*(1-slightly) || out.Wish.ToHz > high*(1+slightly) || out.Wish.FromHz > high:
		return nil, fmt.Errorf("the response is known from %s to %s only", words.Hz(low), words.Hz(high))
	case out.Wish.ToHz < 2*out.Wish.FromHz:
		return nil, fmt.Errorf("from %s to %s is less than an octave", words.Hz(out.Wish.FromHz), words.Hz(out.Wish.ToHz))
	}
	var err error
	out.Found, err = suggest.Find(ctx, out.Wish)
	return out, err
}

// slightly is how far beyond its ends a response may be asked: a file has rounded frequencies.
const slightly = 1e-3

// driverLevel is the level of a way's driver in dB, and where it is known; nil where it
// is not.
func (w *Wanted) driverLevel(q Equalising) (db func(hz float64) float64, low, high float64, isMeasured bool) {
	if r := q.Response; r != nil {
		low, high = r.Span()
		return func(hz float64) float64 { return biquad.DB(r.At(hz)) }, low, high, true
	}
	if w.Acoustics == nil || w.Acoustics.Ways[q.Way].Source == nil {
		return nil, 0, 0, false
	}
	d := w.Acoustics.Ways[q.Way].Source
	low, high = d.Covers()
	_, isMeasured = d.(*acoustic.Axis)
	return func(hz float64) float64 { return biquad.DB(d.Pressure(hz, 0)) }, low, high, isMeasured
}

// sides are a way's shares of the crossovers.
func (w *Wanted) sides(way int) (out []prototype.Ideal) {
	for _, x := range w.Spec.Crossovers {
		f := x.Low
		switch way {
		case x.Lower:
		case x.Upper:
			f = x.High
		default:
			continue
		}
		kind, _ := prototype.ByName(f.Kind)
		ideal, _ := kind.Ideal(f.Args)
		out = append(out, ideal)
	}
	return out
}

// idealDB is the level of filters at a frequency.
func idealDB(filters []prototype.Ideal, hz float64) float64 {
	db := 0.0
	for _, f := range filters {
		db += biquad.GainDB(f.Gain) + biquad.DB(biquad.InSeries(f.Sections, 2*math.Pi*hz))
	}
	return db
}

// heardRange is where a level is within rangeDB of its peak, around that.
func heardRange(db func(hz float64) float64, low, high float64) (from, to float64) {
	hz := biquad.Spaced(low, high, 400)
	at := 0
	for i, f := range hz {
		if db(f) > db(hz[at]) {
			at = i
		}
	}
	peak := db(hz[at])
	a, b := at, at
	for a > 0 && db(hz[a-1]) >= peak-rangeDB {
		a--
	}
	for b < len(hz)-1 && db(hz[b+1]) >= peak-rangeDB {
		b++
	}
	return hz[a], hz[b]
}

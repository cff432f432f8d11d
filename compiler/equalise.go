package compiler

import (
	"context"
	"fmt"
	"io/fs"
	"math"
	"slices"

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
	// Wanted are the kinds of the way's own high- and low-passes that are no equalisers: the target has them as well.
	Wanted []string
}

// Equalise looks for the fewest filters that bring a way to its target. What the spec has
// for the way already counts with it, in the default choice of every setting; crossovers do not, as
// they are what makes a flat way the way that is wanted, nor do high- and low-passes of the way that bring it no
// nearer to its target: nothing is boosted against these. The error is the context's, or says that there is nothing
// to go by.
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
	out.Wish.BoostFromHz = w.boostFromHz(q.Way)
	out.Wish.Response, out.Wish.IsMeasured = func(hz float64) float64 { return driver(hz) + own(hz) }, isMeasured
	bounds := [2]float64{max(low, w.Promises.LowHz), min(high, w.Promises.HighHz)}
	if err := out.reach(shape, q.Wish, bounds, low, high); err != nil {
		return nil, err
	}
	var wanted []prototype.Ideal
	wanted, out.Wanted = w.ownPasses(q.Way, &out.Wish, target)
	out.Wish.Target = func(hz float64) float64 { return target(hz) + idealDB(wanted, hz) }
	cut := func(hz float64) float64 { return shape(hz) + idealDB(wanted, hz) }
	if err := out.reach(cut, q.Wish, bounds, low, high); err != nil {
		return nil, err
	}
	var err error
	out.Found, err = suggest.Find(ctx, out.Wish)
	return out, err
}

// reach makes the range that of a shape, within bounds (Hz), but for the ends that were asked for. It fails where the
// response, which is known from low to high (Hz), does not reach as far, or the range is short.
func (e *Equalised) reach(shape func(hz float64) float64, asked suggest.Wish, bounds [2]float64, low, high float64) error {
	from, to := heardRange(shape, bounds[0], bounds[1])
	if asked.FromHz != 0 {
		from = asked.FromHz
	}
	if asked.ToHz != 0 {
		to = asked.ToHz
	}
	e.Wish.FromHz, e.Wish.ToHz = from, to
	switch {
	case from < low*(1-slightly) || to > high*(1+slightly) || from > high:
		return fmt.Errorf("the response is known from %s to %s only", words.Hz(low), words.Hz(high))
	case to < 2*from:
		return fmt.Errorf("from %s to %s is less than an octave", words.Hz(from), words.Hz(to))
	}
	return nil
}

// ownPasses are a way's own high- and low-passes, in the default settings, that are there for their own sake: without
// one of them the way is as near to the target, in the range of a wish, or nearer. One that equalises is none.
func (w *Wanted) ownPasses(way int, wish *suggest.Wish, target func(hz float64) float64) (out []prototype.Ideal, kinds []string) {
	hz := biquad.Spaced(wish.FromHz, wish.ToHz, 200)
	off := func(without ...prototype.Ideal) float64 {
		sum, square, n := 0.0, 0.0, float64(len(hz))
		for _, f := range hz {
			e := wish.Response(f) - target(f) - idealDB(without, f)
			sum, square = sum+e/n, square+e*e/n
		}
		return square - sum*sum
	}
	for _, f := range w.Spec.Ways[way].Filters {
		standing := !slices.ContainsFunc(f.When, func(c language.Condition) bool { return !slices.Contains(c.Choices, 0) })
		if kind, _ := prototype.ByName(f.Kind); standing && (f.Kind == "high-pass" || f.Kind == "low-pass") {
			if ideal, _ := kind.Ideal(f.Args); off(ideal) <= off() {
				out, kinds = append(out, ideal), append(kinds, f.Kind)
			}
		}
	}
	return out, kinds
}

// boostFromHz is down to where a boost of a way is looked at: the lower end of the band that the spec has, or an octave below the
// resonance of the way's driver, in its mounting or without its port, where cones move as far as at DC.
func (w *Wanted) boostFromHz(way int) float64 {
	hz := w.Promises.LowHz
	if w.Acoustics != nil {
		if m, ok := w.Acoustics.Ways[way].Source.(*acoustic.Mounted); ok {
			hz = min(hz, m.LowestResonanceHz()/2)
		}
	}
	return hz
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

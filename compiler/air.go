package compiler

import (
	"context"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/measured"
	"bandwright/compiler/parallel"
	"bandwright/compiler/progress"
	"bandwright/compiler/promise"
	"bandwright/compiler/verify"
)

// Air is what drivers and amplifiers make of the realisations.
type Air struct {
	*acoustic.System
	// Heard are the prototype and every realisation that the spec asks for.
	Heard    []*acoustic.Heard
	Patterns []acoustic.Pattern
	// FullV is the largest sine at the prototype's input, in the default setting (V RMS).
	FullV float64
	// Reflections are those of the room at the listener, none without a room, and LoudestAt the
	// way that is loudest at each of acoustic.RoomHz in the default setting.
	Reflections []acoustic.Reflection
	LoudestAt   []int
	// DC is what reaches each way's coil from the board.
	DC []CoilDC
	// mend is promise.Air.Mend.
	mend func(h *acoustic.Heard, limit float64) string
}

// CoilDC is direct current through a way's coils, as the board and its amplifier make it.
type CoilDC struct {
	Way                 string
	V, Watt, ExcursionM float64
}

// sources are the drivers of each way, nil where the spec does not say, with what was
// taken for what a measurement does not have.
func sources(s *language.Spec, drivers []*acoustic.Mounted) ([]acoustic.Source, [][]string, []language.Fault) {
	out, notes := make([]acoustic.Source, len(s.Ways)), make([][]string, len(s.Ways))
	var faults []language.Fault
	for i, w := range s.Ways {
		d := w.Driver
		switch {
		case d == nil:
		case d.Model >= 0:
			if drivers[i] != nil {
				out[i] = drivers[i]
			}
		case d.Response.Text != nil:
			r, more := measured.Read(d.Response.Name, d.Response.Text) // notes are the same wherever the spec was opened from
			for k := range more {
				more[k].File = s.Beside(d.Response.Name)
			}
			if faults = append(faults, more...); r == nil {
				continue
			}
			x := r.Under(measured.Conditions{DriveV: d.Drive, DistanceM: d.Distance, Absolute: d.Time == language.Absolute})
			low, high := r.Span()
			a := &acoustic.Axis{At: x.At, Low: low, High: high}
			if d.AreaM2 > 0 {
				a.RadiusM = acoustic.RadiusM(d.AreaM2)
			}
			out[i], notes[i] = a, x.Notes()
		}
	}
	return out, notes, faults
}

// inAir are the drivers and amplifiers of the spec, nil where it has no driver, and faults
// where nothing can be told of what is promised.
func (w *Wanted) inAir() (*acoustic.System, []language.Fault) {
	all, notes, faults := sources(w.Spec, w.Drivers)
	if !slices.ContainsFunc(all, func(s acoustic.Source) bool { return s != nil }) {
		return nil, append(faults, w.promisesNothing(nil)...)
	}
	s := acoustic.New(w.Spec, all, notes)
	return s, append(faults, w.promisesNothing(s)...)
}

// promisesNothing warns of promises about drivers that say nothing, as the spec does not
// say what they are about.
func (w *Wanted) promisesNothing(s *acoustic.System) (faults []language.Fault) {
	lacks := func(of func(way *acoustic.Way) bool) bool {
		if s == nil {
			return true
		}
		for k := range s.Ways {
			if of(&s.Ways[k]) {
				return false
			}
		}
		return true
	}
	for _, x := range []struct {
		row    *promise.Row
		of     func(*acoustic.Way) bool
		needed string
	}{
		{&promise.Excursion, func(x *acoustic.Way) bool { return x.Known && x.LimitM() > 0 }, "give a way an `amplifier` and its driver an `excursion`"},
		{&promise.Amplifier, func(x *acoustic.Way) bool { return x.Known && (x.LimitV > 0 || x.LimitA > 0) }, "give a way an `amplifier` with its `power`"},
		{&promise.Pattern, func(x *acoustic.Way) bool { return x.Source != nil && x.Source.Directs() }, "give two neighbouring ways a `driver` that is known off the axis"},
		{&promise.AcousticSum, func(x *acoustic.Way) bool { return s.Whole() }, "give every way a `driver`"},
	} {
		if v := w.Spec.Promise.Get(x.row.Name); v != nil && v.Given && w.Promises.Limit(x.row).On && lacks(x.of) {
			faults = append(faults, w.Spec.Fault(language.Warning, v.Pos, "nothing is known that `"+x.row.Name+"` could be judged by", x.needed))
		}
	}
	return faults
}

// hear listens to the prototype and to all that is built of it; nil without drivers.
func (b *Build) hear(ctx context.Context) (*Air, []verify.Finding) {
	if b.Acoustics == nil {
		return nil, nil
	}
	progress.Say(ctx, "listening to the drivers")
	s := b.Acoustics
	air := &Air{System: s, Patterns: s.Patterns()}
	ideal := verify.NewIdeal(b.Prototype)
	low, high := b.airBand(s, ideal)
	subject := b.Subject()
	all := []heard{{ideal, subject, b.prototypeV()}}
	for _, d := range b.Digital {
		if d.Asked {
			full := b.Spec.FullScaleV * d.InputGain
			all = append(all, heard{b.Realisation(d), subject, func(verify.Combination) float64 { return full }})
		}
	}
	if b.Board != nil {
		all = append(all, heard{b.Board, b.BoardSubject(), func(c verify.Combination) float64 { return b.Spec.Board.Input.Level.In(c) }})
	}
	switched := b.switched(s.Hz)
	var radiation *acoustic.Radiation // which nothing is promised of
	if !b.extent.unradiated {
		radiation = s.ToAllSides()
	}
	listening := func(x heard) acoustic.Listening {
		return acoustic.Listening{Subject: x.subject, FullV: x.fullV, LowHz: low, HighHz: high, Switched: switched, Radiation: radiation}
	}
	air.Heard = make([]*acoustic.Heard, len(all))
	parallel.Each(len(all), func(i int) { air.Heard[i] = s.Hear(all[i].r, listening(all[i])) })
	c := make(verify.Combination, len(b.Settings))
	air.FullV = all[0].fullV(c)
	air.DC = b.coilDC(s)
	if b.Spec.Room != nil {
		air.Reflections, air.LoudestAt = s.Reflections(b.Spec.Room), s.LoudestAt(ideal, c, acoustic.RoomHz)
	}
	air.mend = func(h *acoustic.Heard, limit float64) string {
		i := slices.Index(air.Heard, h)
		return s.Mend(all[i].r, listening(all[i]), limit)
	}
	return air, b.Promises.InAir(b.promisedOf(air))
}

// promisedOf is what promises about drivers and amplifiers are judged by, without advice.
func (b *Build) promisedOf(air *Air) promise.Air {
	return promise.Air{System: air.System, Heard: air.Heard, BandGiven: b.Promises.AirLowHz > 0}
}

// Listen is what the drivers of a spec make of its prototype. Files are not read: measured is
// the response of a way that has one, nil where that is not known. nil where there is no
// driver, and where the spec means nothing.
func Listen(s *language.Spec, measured func(way string) acoustic.Source) (*acoustic.System, *acoustic.Heard) {
	w, _ := Prototype(s)
	if w == nil {
		return nil, nil
	}
	all, notes, _ := sources(w.Spec, w.Drivers)
	for i, way := range w.Spec.Ways {
		if way.Driver != nil && way.Driver.Model < 0 {
			all[i] = measured(way.Name)
		}
	}
	if !slices.ContainsFunc(all, func(s acoustic.Source) bool { return s != nil }) {
		return nil, nil
	}
	w.Acoustics = acoustic.New(w.Spec, all, notes)
	return w.Acoustics, w.Acoustics.Hear(verify.NewIdeal(w.Prototype), acoustic.Listening{Subject: w.Subject(), FullV: w.prototypeV()})
}

// heard is a realisation with what its largest sine is (V RMS behind the input).
type heard struct {
	r       verify.Realisation
	subject *verify.Subject
	fullV   func(verify.Combination) float64
}

// prototypeV is the largest sine at the prototype's input (V RMS): a converter's with
// digital filters, that of the board's input without.
func (w *Wanted) prototypeV() func(verify.Combination) float64 {
	if w.Spec.Digital == nil {
		return func(c verify.Combination) float64 { return w.Spec.Board.Input.Level.In(c) }
	}
	full := w.Spec.FullScaleV * biquad.FromDB(-w.Spec.Digital.HeadroomDB)
	return func(verify.Combination) float64 { return full }
}

// airBand is where the sum in the air is judged: as the spec says, or where two ways are
// within 20 dB of each other.
func (b *Build) airBand(s *acoustic.System, ideal verify.Realisation) (low, high float64) {
	if b.Promises.AirLowHz > 0 {
		return b.Promises.AirLowHz, b.Promises.AirHighHz
	}
	if !s.Whole() {
		return 0, 0
	}
	low, high = s.Region(ideal, len(b.Settings))
	return math.Max(low, b.Promises.LowHz), math.Min(high, b.Promises.HighHz)
}

// switched is what settings do to the filters before the ways split, re the default
// setting, at hz.
func (b *Build) switched(hz []float64) func(verify.Combination) []complex128 {
	common := b.Prototype.Common
	usual := make([]complex128, len(hz))
	at := func(dst []complex128, c verify.Combination) {
		biquad.OnAnalog(common, hz).Response(dst, c)
	}
	at(usual, make(verify.Combination, len(b.Settings)))
	return func(c verify.Combination) []complex128 {
		out := make([]complex128, len(hz))
		at(out, c)
		for i := range out {
			if usual[i] != 0 && out[i] != 0 {
				out[i] /= usual[i]
				continue
			}
			out[i] = 1
		}
		return out
	}
}

// coilDC is what the board's DC does to each way's coils.
func (b *Build) coilDC(s *acoustic.System) []CoilDC {
	var out []CoilDC
	if b.Board == nil {
		return nil
	}
	for k := range s.Ways {
		for _, f := range verify.Of(b.Figures, b.Board.Name()) {
			if f.Way != s.Ways[k].Name || !f.OffsetV.Known {
				continue
			}
			if v, watt, m, known := s.Ways[k].DC(math.Abs(f.OffsetV.Value)); known {
				out = append(out, CoilDC{f.Way, v, watt, m})
			}
		}
	}
	return out
}

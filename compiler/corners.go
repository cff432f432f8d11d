package compiler

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/prototype"
)

// Corners is where a crossover between two neighbouring ways may lie.
type Corners struct {
	Lower, Upper string
	NowHz        float64 // of the spec
	// LeastHz is the lowest corner of the spec's high-pass with which the upper way's cones stay
	// within LimitM, LevelDB re full scale, in the default settings; below it they pass it first
	// at WorstHz. 0 where it is not known or not needed, +Inf where no corner does.
	LeastHz, WorstHz, LimitM, LevelDB float64
	KnowsExcursion                    bool
	// Alike are where the patterns of both ways differ by no more than WithinDB, from and to, and
	// beyond each end at which angle (degrees) they do not; none where a pattern is not known.
	Alike        []Alike
	WithinDB     float64
	KnowsPattern bool
	// Ranges are what is left: from and to.
	Ranges [][2]float64
}

// Alike is a range in which two ways have nearly the same pattern. FromDegrees and ToDegrees
// are where they part beyond its ends, 0 at the end of what was looked at.
type Alike struct{ FromHz, ToHz, FromDegrees, ToDegrees float64 }

const (
	cornersLowHz, cornersHighHz = 20.0, 20e3
	cornersPerOctave            = 96
	// patternDB is how unlike patterns may be where the spec promises nothing.
	patternDB = 3.0
)

// Corners are those of every crossover whose ways' drivers are known.
func (w *Wanted) Corners() (out []Corners) {
	if w.Acoustics == nil {
		return nil
	}
	for i := range w.Spec.Crossovers {
		x := &w.Spec.Crossovers[i]
		lower, upper := &w.Acoustics.Ways[x.Lower], &w.Acoustics.Ways[x.Upper]
		if lower.Source == nil || upper.Source == nil {
			continue
		}
		c := Corners{Lower: lower.Name, Upper: upper.Name, WithinDB: patternDB}
		if at := x.High.Args.Get("at"); at != nil {
			c.NowHz = at.Number
		}
		if l := w.Promises.Limit(&promise.Pattern); l.On {
			c.WithinDB = l.Value
		}
		w.byExcursion(&c, x)
		w.byPattern(&c, x.Lower)
		c.leave(max(first(lower.Source.Covers()), first(upper.Source.Covers())), min(second(lower.Source.Covers()), second(upper.Source.Covers())))
		out = append(out, c)
	}
	return out
}

func first(a, _ float64) float64  { return a }
func second(_, b float64) float64 { return b }

// byExcursion finds the lowest corner that the upper way's cones hold out. Its excursion falls
// everywhere as the corner rises.
func (w *Wanted) byExcursion(c *Corners, x *language.Crossover) {
	way := &w.Acoustics.Ways[x.Upper]
	c.LimitM = way.LimitM()
	at := x.High.Args.Get("at")
	if c.LimitM <= 0 || !way.Known || at == nil {
		return
	}
	c.KnowsExcursion = true
	if l := w.Promises.Limit(&promise.Excursion); l.On {
		c.LevelDB = l.Value
	}
	hz := w.Acoustics.Hz
	h := make([]complex128, len(hz))
	combination := make(biquad.Combination, len(w.Settings))
	biquad.OnAnalog(w.Prototype.Path(x.Upper), hz).Response(h, combination)
	full := w.prototypeV()(combination) * biquad.FromDB(c.LevelDB)
	moves := make([]float64, len(hz)) // without the crossover's high-pass
	now := w.sideWith(x.High, at, at.Number)
	for i, f := range hz {
		side := math.Sqrt(biquad.Power(biquad.InSeries(now.Sections, 2*math.Pi*f)))
		moves[i] = way.MovesM(f) * full * math.Sqrt(biquad.Power(h[i])) / side
	}
	most := func(corner float64) (m, at float64) {
		side := w.sideWith(x.High, x.High.Args.Get("at"), corner)
		for i, f := range hz {
			if v := moves[i] * math.Sqrt(biquad.Power(biquad.InSeries(side.Sections, 2*math.Pi*f))); v > m {
				m, at = v, f
			}
		}
		return m, at
	}
	low, high := cornersLowHz, cornersHighHz
	if m, _ := most(low); m <= c.LimitM {
		return
	}
	if m, worst := most(high); m > c.LimitM {
		c.LeastHz, c.WorstHz = math.Inf(1), worst
		return
	}
	for high/low > 1.0005 {
		if m, _ := most(math.Sqrt(low * high)); m > c.LimitM {
			low = math.Sqrt(low * high)
		} else {
			high = math.Sqrt(low * high)
		}
	}
	c.LeastHz = high
	_, c.WorstHz = most(high)
}

// sideWith is a side of a crossover with another corner.
func (w *Wanted) sideWith(f language.Filter, at *language.Value, hz float64) prototype.Ideal {
	kind, _ := prototype.ByName(f.Kind)
	args, _ := f.Args.With(at, hz)
	ideal, _ := kind.Ideal(args)
	return ideal
}

// byPattern finds where the two ways radiate alike.
func (w *Wanted) byPattern(c *Corners, lower int) {
	in, parted := false, 0.0
	n := int(math.Log2(cornersHighHz/cornersLowHz) * cornersPerOctave)
	for _, f := range biquad.Spaced(cornersLowHz, cornersHighHz, n+1) {
		db, degrees, known := w.Acoustics.MismatchDB(lower, f)
		if !known {
			return
		}
		c.KnowsPattern = true
		switch alike := math.Abs(db) <= c.WithinDB; {
		case alike && !in:
			c.Alike = append(c.Alike, Alike{FromHz: f, FromDegrees: parted, ToHz: f})
		case alike:
			c.Alike[len(c.Alike)-1].ToHz = f
		case in:
			c.Alike[len(c.Alike)-1].ToDegrees = degrees
		}
		if in = math.Abs(db) <= c.WithinDB; !in {
			parted = degrees
		}
	}
}

// leave works out what all bounds leave.
func (c *Corners) leave(low, high float64) {
	low, high = max(low, c.LeastHz, cornersLowHz), min(high, cornersHighHz)
	if !c.KnowsPattern {
		if low < high {
			c.Ranges = [][2]float64{{low, high}}
		}
		return
	}
	for _, a := range c.Alike {
		if from, to := max(low, a.FromHz), min(high, a.ToHz); from < to {
			c.Ranges = append(c.Ranges, [2]float64{from, to})
		}
	}
}

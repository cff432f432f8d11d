package compiler

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/promise"
	"bandwright/compiler/prototype"
)

// Corners is where a crossover between two neighbouring ways may lie.
type Corners struct {
	Lower, Upper string
	NowHz        float64 // of the spec
	// LevelDB is the level re full scale that cones have to hold, in every setting.
	LevelDB float64
	// Above is what the upper way's cones allow with the spec's high-pass: HoldsHz is its lowest
	// corner. Below is what the lower way's allow with the spec's low-pass: its highest corner.
	Above, Below Travel
	// ResonanceHz is that of the upper way's driver in its box, below which it rolls off by itself; 0 where it is
	// not known.
	ResonanceHz float64
	// Alike are where the patterns of both ways differ by no more than WithinDB, from and to, and
	// beyond each end at which angle (degrees) they do not; none where a pattern is not known.
	Alike        []Alike
	WithinDB     float64
	KnowsPattern bool
	// BeamsHz and EightToHz are where the lower way begins to beam and where it leaves its figure
	// of eight, as a dipole; 0 where that is not known, or there is none.
	BeamsHz, EightToHz float64
	// Ranges are what is left: from and to.
	Ranges [][2]float64
}

// Alike is a range in which two ways have nearly the same pattern. FromDegrees and ToDegrees
// are where they part beyond its ends, 0 at the end of what was looked at.
type Alike struct{ FromHz, ToHz, FromDegrees, ToDegrees float64 }

// Travel is how a crossover's corner bears on the excursion of one of its ways.
type Travel struct {
	Known  bool
	LimitM float64
	// HoldsHz is the corner at which the limit is reached, WorstHz where the cones pass it beyond that.
	// Any: they hold it with any corner; None: with none, of a low-pass not with that of the spec, as cones move
	// most at the bottom of what a way is there for.
	HoldsHz, WorstHz float64
	Any, None        bool
}

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
		if l := w.Promises.Limit(&promise.Excursion); l.On {
			c.LevelDB = l.Value
		}
		c.Above = w.travel(x.Upper, x.High, c.LevelDB, true)
		c.Below = w.travel(x.Lower, x.Low, c.LevelDB, false)
		if m, ok := upper.Source.(*acoustic.Mounted); ok {
			if hz, _, known := m.Resonance(); known {
				c.ResonanceHz = hz
			}
		}
		w.byPattern(&c, x.Lower)
		for _, p := range w.Acoustics.Patterns() {
			if p.Way == lower.Name {
				c.BeamsHz, c.EightToHz = p.BeamsHz, p.EightToHz
			}
		}
		c.leave(max(first(lower.Source.Covers()), first(upper.Source.Covers())), min(second(lower.Source.Covers()), second(upper.Source.Covers())))
		out = append(out, c)
	}
	return out
}

func first(a, _ float64) float64  { return a }
func second(_, b float64) float64 { return b }

// travel finds how far the corner of a way's side of a crossover may go before its cones move further than
// they may at so many dB re full scale, in any setting. Excursion falls everywhere as the corner of a
// high-pass rises and as that of a low-pass falls.
func (w *Wanted) travel(k int, side language.Filter, db float64, high bool) (t Travel) {
	way := &w.Acoustics.Ways[k]
	t.LimitM = way.LimitM()
	key := side.Args.Get("at")
	if t.LimitM <= 0 || !way.Known || key == nil {
		return t
	}
	t.Known = true
	hz := biquad.Octaves(w.Acoustics.Hz[0], cornersHighHz, cornersPerOctave)
	moves := w.movesWithout(hz, k, side, db)
	most := func(corner float64) (m, at float64) {
		with := w.sideWith(side, key, corner)
		for i, f := range hz {
			if v := moves[i] * math.Sqrt(biquad.Power(biquad.InSeries(with.Sections, 2*math.Pi*f))); v > m {
				m, at = v, f
			}
		}
		return m, at
	}
	easy, hard := cornersHighHz, cornersLowHz // corners that move the cones least and most
	if !high {
		easy, hard = key.Number, cornersHighHz
	}
	if m, _ := most(hard); m <= t.LimitM {
		t.Any = true
		return t
	}
	if m, worst := most(easy); m > t.LimitM {
		t.None, t.WorstHz = true, worst
		return t
	}
	for math.Abs(math.Log(hard/easy)) > 5e-4 {
		if m, _ := most(math.Sqrt(hard * easy)); m > t.LimitM {
			hard = math.Sqrt(hard * easy)
		} else {
			easy = math.Sqrt(hard * easy)
		}
	}
	t.HoldsHz = easy
	_, t.WorstHz = most(hard)
	return t
}

// movesWithout is how far a way's cones move (m, peak) at so many dB re full scale without one side of a crossover:
// the most of any setting.
func (w *Wanted) movesWithout(hz []float64, k int, side language.Filter, db float64) []float64 {
	moves, h := make([]float64, len(hz)), make([]complex128, len(hz))
	on := biquad.OnAnalog(w.Prototype.Path(k), hz)
	full := w.prototypeV()
	for _, c := range w.Subject().Cases() {
		if c.Way != k || c.C == nil {
			continue
		}
		on.Response(h, c.C)
		v := full(c.C) * biquad.FromDB(db)
		for i, x := range h {
			moves[i] = math.Max(moves[i], v*math.Sqrt(biquad.Power(x)))
		}
	}
	at := side.Args.Get("at")
	now := w.sideWith(side, at, at.Number)
	for i, f := range hz {
		moves[i] *= w.Acoustics.Ways[k].MovesM(f) / math.Sqrt(biquad.Power(biquad.InSeries(now.Sections, 2*math.Pi*f)))
	}
	return moves
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
	low, high = max(low, c.Above.HoldsHz, c.ResonanceHz, cornersLowHz), min(high, cornersHighHz)
	if c.Below.HoldsHz > 0 {
		high = min(high, c.Below.HoldsHz)
	}
	if c.Above.None {
		return
	}
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

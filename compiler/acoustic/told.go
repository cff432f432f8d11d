package acoustic

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Told is what all ways make together in one combination of the settings, at full scale. Series
// are at System.Shown, as far up as the realisation responds.
type Told struct {
	C    verify.Combination
	With []verify.Choice
	// SumDB is the sum on the axis at 1 m (dB re 20 µPa), MaximumDB the most before something
	// reaches its limit, which By names.
	SumDB, MaximumDB []float64
	By               []string
	// PowerDB is the mean level of all directions (dB re 20 µPa at 1 m), IndexDB the level on the
	// axis above it; nil where a way is not known off the axis.
	PowerDB, IndexDB []float64
}

// Crossed is where neighbouring ways meet in one combination of the settings of the ways' own
// filters.
type Crossed struct {
	C    verify.Combination
	With []verify.Choice
	Meetings
}

// Meetings are those of neighbouring ways, from the lowest on.
type Meetings []Meeting

// MostTold is up to how many combinations are told one by one. Of more, these are the default
// and each choice by itself; the greatest strains and departures are those of all.
const MostTold = 24

// told picks the combinations that are told one by one.
func told(all []verify.Combination) []verify.Combination {
	if len(all) <= MostTold {
		return all
	}
	var out []verify.Combination
	for _, c := range all {
		changed := 0
		for _, v := range c {
			if v != 0 {
				changed++
			}
		}
		if changed <= 1 {
			out = append(out, c)
		}
	}
	return out
}

// limit is what may not be passed by something of a way.
type limit struct {
	most  float64
	by    string
	per1V []float64 // of it, for 1 V RMS at the amplifier's input, at System.Hz
}

// limits of all ways.
func (s *System) limits() (out [][]limit) {
	for k := range s.Ways {
		w := &s.Ways[k]
		gain := make([]float64, len(s.Hz))
		for i := range gain {
			gain[i] = w.Gain
		}
		var own []limit
		for _, l := range []limit{{w.LimitM(), w.Name + " excursion", s.excursion[k]}, {w.LimitV, w.Name + " volts", gain}, {w.LimitA, w.Name + " amperes", s.current[k]}} {
			if l.most > 0 && w.Source != nil {
				own = append(own, l)
			}
		}
		out = append(out, own)
	}
	return out
}

// allowed is how much of full scale (1 at most) keeps all limits at the frequency of index i, where
// ways have so many volts RMS before their amplifiers, and what it is that does not let more.
func allowed(limits [][]limit, i int, volts func(way int) float64) (part float64, by string) {
	part, by = 1, FullScale
	for k, own := range limits {
		v := volts(k)
		for _, l := range own {
			if is := v * l.per1V[i]; is > 0 && l.most/is < part {
				part, by = l.most/is, l.by
			}
		}
	}
	return part, by
}

// FullScale is what limits the level where no driver and no amplifier does.
const FullScale = "full scale"

// tell works out what is told of each combination.
func (e *ear) tell(out *Heard) {
	var all []verify.Combination
	e.Subject.Combinations(func(c verify.Combination) { all = append(all, append(verify.Combination(nil), c...)) })
	h := e.responses()
	for _, c := range told(all) {
		full := e.FullV(c)
		for k := range h {
			e.on.Response(h[k], k, c)
		}
		x := Told{C: c, With: e.Subject.ChoicesOfAll(c)}
		for i := 0; i < len(e.hz); i += every {
			var sum complex128
			for k := range h {
				sum += h[k][i] * e.pressure[k][i]
			}
			db := pressureDB(sum * complex(full, 0))
			part, by := allowed(e.limit, i, func(k int) float64 { return full * math.Sqrt(biquad.Power(h[k][i])) })
			x.SumDB, x.MaximumDB, x.By = append(x.SumDB, db), append(x.MaximumDB, db+biquad.GainDB(part)), append(x.By, by)
			if e.Radiation == nil {
				continue
			}
			mean := math.Sqrt(e.Radiation.power(i/every, func(k int) complex128 { return h[k][i] }))
			x.PowerDB = append(x.PowerDB, pressureDB(complex(mean*full, 0)))
			x.IndexDB = append(x.IndexDB, biquad.DB(sum)-biquad.GainDB(mean))
		}
		out.Settings = append(out.Settings, x)
	}
}

// responses are places for those of all ways.
func (e *ear) responses() [][]complex128 {
	h := make([][]complex128, len(e.Ways))
	for k := range h {
		h[k] = make([]complex128, len(e.hz))
	}
	return h
}

// meet finds where neighbouring ways meet, in each combination of the ways' own settings.
func (e *ear) meet(out *Heard) {
	h := e.responses()
	e.Subject.Splits(func(c verify.Combination) {
		for k := range h {
			e.on.Response(h[k], k, c)
		}
		m := Crossed{C: append(verify.Combination(nil), c...), With: e.Subject.ChoicesOfSplit(c), Meetings: e.meetings(e.hz, h)}
		out.Crossed = append(out.Crossed, m)
	})
}

// Radiation is how ways add up in all directions together, at System.Shown.
type Radiation struct {
	// across are the means over all directions of the product of one way's pressure and the
	// conjugate of another's, for 1 V before each one's amplifier.
	across [][][]complex128
}

// ToAllSides integrates over the sphere; nil where a way is not known off the axis.
func (s *System) ToAllSides() *Radiation {
	for _, w := range s.Ways {
		if w.Source == nil || !w.Source.Directs() {
			return nil
		}
	}
	hz, _ := s.Shown()
	out := &Radiation{}
	p := make([]complex128, len(s.Ways))
	for _, f := range hz {
		m := make([][]complex128, len(s.Ways))
		for k := range m {
			m[k] = make([]complex128, len(s.Ways))
		}
		for _, n := range sphere {
			for k := range p {
				p[k] = s.Ways[k].Pressure(f, n.degrees)
			}
			for k := range p {
				for j := range p {
					m[k][j] += complex(n.weight, 0) * p[k] * complex(real(p[j]), -imag(p[j]))
				}
			}
		}
		out.across = append(out.across, m)
	}
	return out
}

// power is the mean of |p|² over all directions (Pa² at 1 m) at index n of System.Shown, of ways
// with so many volts before their amplifiers.
func (r *Radiation) power(n int, volts func(way int) complex128) float64 {
	sum := 0.0
	for k, row := range r.across[n] {
		for j, m := range row {
			v := volts(j)
			sum += real(volts(k) * complex(real(v), -imag(v)) * m)
		}
	}
	return max(0, sum)
}

// heardDB is how far below a series' peak it counts.
const heardDB = 60

// Apart is the greatest difference (dB) of what is told of two realisations of one loudspeaker in any
// combination, of ways on the axis and of all together, as far down as 60 dB below the peak of
// each; +Inf where they do not tell of the same.
func (h *Heard) Apart(from *Heard) float64 {
	most := 0.0
	differ := func(x, y []float64) {
		for i, v := range y {
			if v > peak(y)-heardDB && i < len(x) {
				most = math.Max(most, math.Abs(x[i]-v))
			}
		}
		if len(x) < len(y) && y[len(y)-1] > peak(y)-heardDB {
			most = math.Inf(1)
		}
	}
	if len(h.Settings) != len(from.Settings) {
		return math.Inf(1)
	}
	for i := range h.Settings {
		x, y := &h.Settings[i], &from.Settings[i]
		differ(x.SumDB, y.SumDB)
		differ(x.MaximumDB, y.MaximumDB)
		differ(x.PowerDB, y.PowerDB)
	}
	for k := range h.Ways {
		if len(h.Ways[k].Settings) != len(from.Ways[k].Settings) {
			return math.Inf(1)
		}
		for i, s := range h.Ways[k].Settings {
			differ(s.LevelDB, from.Ways[k].Settings[i].LevelDB)
		}
	}
	return most
}

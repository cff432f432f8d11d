package acoustic

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// Heard is what drivers make of one realisation's outputs. Levels are those of the largest
// sine at the input, full scale, wherever it lies; all are linear.
type Heard struct {
	Realisation string
	Ways        []HeardWay
	// Sum is the greatest departure (dB, signed) of the sum on the axis from its mean over
	// the band that acoustic sums are judged in; not Known without one. Broken counts, for
	// a limit, are made of Departures, one a combination.
	Sum        verify.Extreme
	Departures []verify.Extreme
	// SumLowHz and SumHighHz are the band.
	SumLowHz, SumHighHz float64
	// SumDB is the sum on the axis at 1 m (dB re 20 µPa) in the default setting, full scale, and
	// MaximumDB the most before something reaches its limit.
	SumDB, MaximumDB []float64
	// Settings are what all ways make together in each combination that is told, the default
	// first; Crossed is where neighbours meet.
	Settings []Told
	Crossed  []Crossed
	// TopHz is up to where the realisation responds, RateHz its sampling rate, 0 for none.
	TopHz, RateHz float64
}

// HeardWay is a way's part.
type HeardWay struct {
	Way string
	// Excursion (m, peak), Volts and Amperes (RMS, at the amplifier's output), each with its
	// worst place and setting; not Known where the model does not say.
	Excursion, Volts, Amperes verify.Extreme
	// Settings are the same for each combination of the way's settings.
	Settings []Strain
	// LevelDB, ExcursionM, V and A are over frequency in the default setting.
	LevelDB, ExcursionM, V, A []float64
	// MostM, MostV and MostA are the greatest of any setting.
	MostM, MostV, MostA []float64
}

// Strain is what a way takes in one combination of its settings.
type Strain struct {
	C                         verify.Combination
	With                      []verify.Choice
	Excursion, Volts, Amperes Peak
	// LevelDB is the level on the axis at System.Shown; nil of combinations that are not told.
	LevelDB []float64
}

// Peak is the greatest of something over frequency.
type Peak struct{ Value, AtHz float64 }

// Listening is how a realisation is listened to.
type Listening struct {
	Subject *verify.Subject
	// FullV is the greatest sine behind the input (V RMS) in a combination, at whatever
	// the realisation's response is re.
	FullV func(c verify.Combination) float64
	// Band is where the sum is judged (Hz); both 0 for nowhere.
	LowHz, HighHz float64
	// Switched is what settings do before the ways split, re the default setting: it is
	// taken out of the sum.
	Switched func(c verify.Combination) []complex128
	// Radiation is what the drivers radiate to all sides, nil where that is not known or not asked.
	Radiation *Radiation
}

// Hear finds the strains of each way in each combination, and how the ways sum.
func (s *System) Hear(r verify.Realisation, l Listening) *Heard {
	top, rate := math.Inf(1), 0.0
	if x, ok := r.(verify.Sampled); ok {
		rate = x.RateHz()
		top = verify.TopOfRate * rate
	}
	n := 0
	for n < len(s.Hz) && s.Hz[n] <= top {
		n++
	}
	e := &ear{System: s, Listening: l, r: r, hz: s.Hz[:n], on: r.On(s.Hz[:n]), limit: s.limits()}
	out := &Heard{Realisation: r.Name(), TopHz: s.Hz[n-1], RateHz: rate}
	cases := make([][]verify.Combination, len(s.Ways))
	for _, c := range l.Subject.Cases() {
		if c.C != nil {
			cases[c.Way] = append(cases[c.Way], c.C)
		}
	}
	for k, all := range cases {
		w := HeardWay{Way: s.Ways[k].Name}
		if s.Ways[k].Source != nil {
			shown := told(all)
			for _, c := range all {
				one := len(shown) > 0 && slices.Equal(shown[0], c)
				if one {
					shown = shown[1:]
				}
				w.Settings = append(w.Settings, e.strain(verify.Case{Way: k, C: c}, &w, one))
			}
		}
		out.Ways = append(out.Ways, w)
	}
	for k := range out.Ways {
		e.worst(k, &out.Ways[k])
	}
	e.series(out)
	e.tell(out)
	e.meet(out)
	if s.Whole() {
		e.departures(out)
	}
	return out
}

// ear is a realisation that is listened to.
type ear struct {
	*System
	Listening
	r     verify.Realisation
	hz    []float64
	on    verify.Responder
	limit [][]limit
}

// strain is what way and combination of a case take; told: with levels.
func (e *ear) strain(c verify.Case, w *HeardWay, told bool) Strain {
	h := make([]complex128, len(e.hz))
	e.on.Response(h, c.Way, c.C)
	full := e.FullV(c.C)
	volts, moves, draws := make([]float64, len(h)), make([]float64, len(h)), make([]float64, len(h))
	for i, x := range h {
		v := full * math.Sqrt(biquad.Power(x))
		volts[i], moves[i], draws[i] = v*e.Ways[c.Way].Gain, v*e.excursion[c.Way][i], v*e.current[c.Way][i]
	}
	w.MostM, w.MostV, w.MostA = greater(w.MostM, moves), greater(w.MostV, volts), greater(w.MostA, draws)
	out := Strain{C: c.C, With: e.Subject.Choices(c), Excursion: summit(e.hz, moves), Volts: summit(e.hz, volts), Amperes: summit(e.hz, draws)}
	for i := 0; told && i < len(h); i += every {
		out.LevelDB = append(out.LevelDB, pressureDB(h[i]*complex(full, 0)*e.pressure[c.Way][i]))
	}
	return out
}

// greater is the greater of each two; y where there is no x yet.
func greater(x, y []float64) []float64 {
	if x == nil {
		return y
	}
	for i, v := range y {
		x[i] = math.Max(x[i], v)
	}
	return x
}

// summit is the greatest of values over frequency, by a parabola through the three around
// it in decibels.
func summit(hz, x []float64) Peak {
	at := 0
	for i, v := range x {
		if v > x[at] {
			at = i
		}
	}
	if at == 0 || at == len(x)-1 || !(x[at-1] > 0) || !(x[at+1] > 0) {
		return Peak{x[at], hz[at]}
	}
	a, b, c := biquad.GainDB(x[at-1]), biquad.GainDB(x[at]), biquad.GainDB(x[at+1])
	bend := a - 2*b + c
	if !(bend < 0) {
		return Peak{x[at], hz[at]}
	}
	t := (a - c) / (2 * bend)
	return Peak{biquad.FromDB(b - (a-c)*t/4), hz[at] * math.Exp2(t*math.Log2(hz[at+1]/hz[at]))}
}

// worst finds the strains of a way that are greatest, at their exact place.
func (e *ear) worst(k int, w *HeardWay) {
	way := &e.Ways[k]
	for _, q := range []struct {
		of  func(Strain) Peak
		at  func(hz float64) float64
		out *verify.Extreme
	}{
		{func(s Strain) Peak { return s.Excursion }, way.moves, &w.Excursion},
		{func(s Strain) Peak { return s.Volts }, func(float64) float64 { return way.Gain }, &w.Volts},
		{func(s Strain) Peak { return s.Amperes }, way.draws, &w.Amperes},
	} {
		for _, s := range w.Settings {
			if p := q.of(s); p.Value > q.out.Value {
				*q.out = verify.Extreme{Known: true, Value: p.Value, AtHz: p.AtHz, C: s.C, With: s.With}
			}
		}
		if q.out.Known {
			e.exact(k, q.out, q.at)
		}
	}
}

// exact puts the greatest near a place where it is.
func (e *ear) exact(k int, x *verify.Extreme, at func(hz float64) float64) {
	full := e.FullV(x.C)
	h := make([]complex128, 1)
	value := func(f float64) float64 {
		e.r.Near([]float64{f}).Response(h, k, x.C)
		return full * math.Sqrt(biquad.Power(h[0])) * at(f)
	}
	const steps = 12
	low, high := math.Max(lowestHz, x.AtHz/1.03), math.Min(e.hz[len(e.hz)-1], x.AtHz*1.03)
	f := biquad.Summit(low, high, steps, value)
	best := x.AtHz
	x.Value = value(best)
	for _, f := range []float64{f, low, high} {
		if v := value(f); v > x.Value {
			x.Value, best = v, f
		}
	}
	x.AtHz = best
}

// series are what there is over frequency in the default setting.
func (e *ear) series(out *Heard) {
	c := make(verify.Combination, len(e.Subject.Settings))
	full := e.FullV(c)
	h := e.responses()
	for k := range h {
		way, w := &e.Ways[k], &out.Ways[k]
		if way.Source == nil {
			continue
		}
		e.on.Response(h[k], k, c)
		for i, x := range h[k] {
			v := full * math.Sqrt(biquad.Power(x))
			w.LevelDB = append(w.LevelDB, pressureDB(x*complex(full, 0)*e.pressure[k][i]))
			w.V, w.ExcursionM, w.A = append(w.V, v*way.Gain), append(w.ExcursionM, v*e.excursion[k][i]), append(w.A, v*e.current[k][i])
		}
	}
	for i := range e.hz {
		var sum complex128
		for k := range h {
			sum += h[k][i] * complex(full, 0) * e.pressure[k][i]
		}
		part, _ := allowed(e.limit, i, func(k int) float64 { return full * math.Sqrt(biquad.Power(h[k][i])) })
		db := pressureDB(sum)
		out.SumDB, out.MaximumDB = append(out.SumDB, db), append(out.MaximumDB, db+biquad.GainDB(part))
	}
}

// pressureDB is a level re 20 µPa, 0 of what is below it: nobody hears that.
func pressureDB(p complex128) float64 {
	return math.Max(0, biquad.DB(p)-20*math.Log10(ReferencePa))
}

// departures are those of the sum from its mean level over the band, in each combination,
// with what settings do before the ways split taken out.
func (e *ear) departures(out *Heard) {
	from, to := e.within(e.LowHz, e.HighHz)
	if to-from < 3 {
		return
	}
	out.SumLowHz, out.SumHighHz = e.hz[from], e.hz[to-1]
	ways := make([][]complex128, len(e.Ways))
	for k := range ways {
		ways[k] = make([]complex128, len(e.hz))
	}
	e.Subject.Combinations(func(c verify.Combination) {
		for k := range ways {
			e.on.Response(ways[k], k, c)
			for i := from; i < to; i++ {
				ways[k][i] *= e.pressure[k][i]
			}
		}
		db, at := e.departure(ways, e.Switched(c), from, to, nil)
		x := verify.Extreme{Known: true, Value: db, AtHz: e.hz[at], C: append(verify.Combination(nil), c...)}
		x.With = e.Subject.ChoicesOfAll(c)
		out.Departures = append(out.Departures, x)
		if !out.Sum.Known || math.Abs(x.Value) > math.Abs(out.Sum.Value) {
			out.Sum = x
		}
	})
}

// departure is the greatest departure (dB) of the sum of ways from its mean between two
// indices, what settings do before the ways split taken out, and its index; turned may change
// a way at a frequency.
func (e *ear) departure(ways [][]complex128, switched []complex128, from, to int, turned func(k, i int) complex128) (db float64, at int) {
	level := make([]float64, to-from)
	mean := 0.0
	for i := range level {
		var sum complex128
		for k := range ways {
			x := ways[k][from+i]
			if turned != nil {
				x *= turned(k, from+i)
			}
			sum += x
		}
		level[i] = biquad.DB(sum / switched[from+i])
		mean += level[i] / float64(len(level))
	}
	for i, x := range level {
		if math.Abs(x-mean) > math.Abs(db) {
			db, at = x-mean, from+i
		}
	}
	return db, at
}

// within are the indices of the frequencies from low to high.
func (e *ear) within(low, high float64) (from, to int) {
	for from < len(e.hz) && e.hz[from] < low {
		from++
	}
	for to = from; to < len(e.hz) && e.hz[to] <= high; {
		to++
	}
	return from, to
}

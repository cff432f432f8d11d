package acoustic

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Mend looks for one way whose polarity or delay, changed alone, brings the sum of a
// realisation in the default setting nearest to its mean level: the advice says what that
// leaves. The simplest that leaves no more than limit (dB) is taken; "" where nothing is
// better by a tenth. Where more than limit is left, it says that nothing tried keeps it.
// Delays are tried up to 500 us to both sides, and then around what brings the way together with another.
func (s *System) Mend(r verify.Realisation, l Listening, limit float64) string {
	n := len(s.Hz)
	if x, ok := r.(verify.Sampled); ok {
		for n > 0 && s.Hz[n-1] > verify.TopOfRate*x.RateHz() {
			n--
		}
	}
	e := &ear{System: s, Listening: l, r: r, hz: s.Hz[:n], on: r.On(s.Hz[:n])}
	m := mender{ear: e, c: make(verify.Combination, len(l.Subject.Settings)), ways: make([][]complex128, len(s.Ways))}
	m.from, m.to = e.within(l.LowHz, l.HighHz)
	for k := range m.ways {
		m.ways[k] = make([]complex128, n)
		e.on.Response(m.ways[k], k, m.c)
		for i := range m.ways[k] {
			m.ways[k][i] *= s.pressure[k][i]
		}
	}
	m.switched = e.Switched(m.c)
	now, _ := e.departure(m.ways, m.switched, m.from, m.to, nil)
	m.best = math.Abs(now) * 0.9
	// A polarity first, then a delay, and both where neither is enough.
	for _, tried := range []func(){
		func() { m.tryNear(-1, 0) },
		func() { m.tryNear(1, 50) }, func() { m.tryFar(1) },
		func() { m.tryNear(-1, 50) }, func() { m.tryFar(-1) },
	} {
		if tried(); m.best <= limit {
			break
		}
	}
	if m.advice == "" {
		return ""
	}
	m.advice += ", which leaves " + words.Level(m.best, "dB") + " in the default setting"
	if m.best > limit {
		return "no polarity and no delay of one way does; it helps to " + m.advice
	}
	return m.advice
}

// mender tries changes of one way.
type mender struct {
	*ear
	c        verify.Combination
	ways     [][]complex128
	switched []complex128
	from, to int // where the sum is judged
	best     float64
	advice   string
}

// stepS (s) is how finely delays are tried.
const stepS = 10e-6

// try is the departure (dB) of the sum with a way's polarity times a sign and so many steps of delay more; the best is kept.
func (m *mender) try(way int, sign float64, steps int) float64 {
	late := float64(steps) * stepS
	db, _ := m.departure(m.ways, m.switched, m.from, m.to, func(w, i int) complex128 {
		if w != way {
			return 1
		}
		return biquad.Delay(m.hz[i], late) * complex(sign, 0)
	})
	if db = math.Abs(db); db < m.best-1e-9 {
		m.best, m.advice = db, mended(m.Ways[way].Name, sign, late)
	}
	return db
}

// tryNear tries each way with up to so many steps of delay.
func (m *mender) tryNear(sign float64, most int) {
	for k := range m.ways {
		for step := -most; step <= most; step++ {
			m.try(k, sign, step)
		}
	}
}

// tryFar tries each way with the delays around the one that brings it together with each other way where both are loud: a period
// there to both sides, coarsely, and finely around the best.
func (m *mender) tryFar(sign float64) {
	const coarse = 64 // steps a period
	for k := range m.ways {
		for j := range m.ways {
			hz := m.meet(k, j)
			if j == k || hz == 0 {
				continue
			}
			centre := int(math.Round((m.delayS(j, hz) - m.delayS(k, hz)) / stepS))
			stride := max(1, int(math.Round(1/(coarse*hz*stepS))))
			best, at := math.Inf(1), centre
			for step := centre - coarse*stride; step <= centre+coarse*stride; step += stride {
				if db := m.try(k, sign, step); db < best {
					best, at = db, step
				}
			}
			for step := at - stride + 1; step < at+stride; step++ {
				m.try(k, sign, step)
			}
		}
	}
}

// meet is where two ways are both loudest, of where the sum is judged; 0 where one is silent.
func (m *mender) meet(k, j int) (hz float64) {
	most := 0.0
	for i := m.from; i < m.to; i++ {
		if both := math.Min(biquad.Power(m.ways[k][i]), biquad.Power(m.ways[j][i])); both > most {
			most, hz = both, m.hz[i]
		}
	}
	return hz
}

// delayS is the group delay (s) of a way in the air, without the flight.
func (m *mender) delayS(way int, hz float64) float64 {
	const apart = 1e-4 // of the frequency: a delay of a second is a tenth of a turn at 1 kHz
	two, h := []float64{hz, hz * (1 + apart)}, make([]complex128, 2)
	m.r.Near(two).Response(h, way, m.c)
	for i, f := range two {
		h[i] *= m.Ways[way].Pressure(f, 0)
	}
	return -cmplx.Phase(h[1]/h[0]) / (2 * math.Pi * hz * apart)
}

// mended says what was done to a way.
func mended(way string, sign, late float64) string {
	text := ""
	if sign < 0 {
		text = "turn the polarity of " + way
	}
	if late == 0 {
		return text
	}
	if text != "" {
		text += " and "
	}
	if late < 0 {
		return text + "take " + words.Seconds(-late) + " of delay from " + way + ", or give it to the other ways"
	}
	return text + "delay " + way + " by " + words.Seconds(late) + " more"
}

// AlikeHz is the frequency nearest to where two ways meet, within two octaves, at which
// they are alike off the axis within so many dB; 0 where there is none.
func AlikeHz(s *System, m Meeting, limit float64) float64 {
	var lower, upper *Way
	for k := range s.Ways {
		switch s.Ways[k].Name {
		case m.Lower:
			lower = &s.Ways[k]
		case m.Upper:
			upper = &s.Ways[k]
		}
	}
	alike := func(hz float64) bool {
		for _, a := range Angles {
			if math.Abs(upper.offDB(hz, a)-lower.offDB(hz, a)) > limit {
				return false
			}
		}
		return true
	}
	for step := 1; step <= 2*PerOctave; step++ {
		for _, sign := range []float64{-1, 1} {
			if hz := words.Round(m.Hz*math.Exp2(sign*float64(step)/PerOctave), 2); alike(hz) {
				return hz
			}
		}
	}
	return 0
}

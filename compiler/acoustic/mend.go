package acoustic

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Mend looks for one way whose polarity or delay, changed alone, brings the sum of a
// realisation in the default setting nearest to its mean level: the advice says what that
// leaves. The simplest that leaves no more than limit (dB) is taken; "" where nothing is
// better by a tenth. Where more than limit is left, it says that nothing tried keeps it.
func (s *System) Mend(r verify.Realisation, l Listening, limit float64) string {
	n := len(s.Hz)
	if x, ok := r.(verify.Sampled); ok {
		for n > 0 && s.Hz[n-1] > verify.TopOfRate*x.RateHz() {
			n--
		}
	}
	e := &ear{System: s, Listening: l, r: r, hz: s.Hz[:n], on: r.On(s.Hz[:n])}
	from, to := e.within(l.LowHz, l.HighHz)
	c := make(verify.Combination, len(l.Subject.Settings))
	ways := make([][]complex128, len(s.Ways))
	for k := range ways {
		ways[k] = make([]complex128, n)
		e.on.Response(ways[k], k, c)
		for i := range ways[k] {
			ways[k][i] *= s.pressure[k][i]
		}
	}
	one := e.Switched(c)
	now, _ := e.departure(ways, one, from, to, nil)
	best, advice := math.Abs(now)*0.9, ""
	// A polarity first, then a delay, and both where neither is enough.
	for _, tried := range []struct {
		sign float64
		most int
	}{{-1, 0}, {1, 50}, {-1, 50}} {
		for k := range ways {
			for step := -tried.most; step <= tried.most; step++ {
				late := float64(step) * 10e-6
				db, _ := e.departure(ways, one, from, to, func(w, i int) complex128 {
					if w != k {
						return 1
					}
					return biquad.Delay(e.hz[i], late) * complex(tried.sign, 0)
				})
				if math.Abs(db) < best-1e-9 {
					best, advice = math.Abs(db), mended(s.Ways[k].Name, tried.sign, late)
				}
			}
		}
		if best <= limit {
			break
		}
	}
	if advice == "" {
		return ""
	}
	advice += ", which leaves " + words.Level(best, "dB") + " in the default setting"
	if best > limit {
		return "no polarity and no delay of one way does; it helps to " + advice
	}
	return advice
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

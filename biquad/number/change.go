package number

import (
	"math"

	"bandwright/biquad"
)

// Tick is the samples between two looks at what is asked of a channel: a change
// of setting, a mute. Ticks are counted from the start, so that nothing depends on
// the lengths of blocks.
const Tick = 32

// RestEvery is the samples between two looks for sections whose memory has all
// but decayed: a multiple of Tick.
const RestEvery = 4 * Tick

// FadeSamples is how long a fade of so many seconds is: whole ticks, at least
// one.
func FadeSamples(fadeS, rateHz float64) int {
	return Tick * max(1, int(math.Round(float64(fadeS*rateHz)/Tick)))
}

// Doubled is what runs twice of a cascade while a setting changes.
type Doubled struct {
	// Twice reports that the cascade's output depends on a setting.
	Twice bool
	// From is the first position that runs twice; as many as there are where
	// none does.
	From int
	// Fixed is how many positions always run: those that settings change are behind them.
	Fixed int
}

// DoubledOf tells of every cascade, the common one first, what runs twice while
// a setting changes, of an arranged system: all from the first position with alternatives on, ways
// included. Old and new are mixed at the outputs, where no filter follows that
// could make anything else of a tone that fades: for a steady tone no output then
// rises above the louder of before and after.
func DoubledOf(s biquad.System[biquad.Digital]) []Doubled {
	out := []Doubled{doubled(s.Common.Slots)}
	for _, w := range s.Ways {
		d := doubled(w.Slots)
		if out[0].Twice {
			d.Twice, d.From = true, 0
		}
		out = append(out, d)
	}
	return out
}

func doubled(slots []biquad.Slot[biquad.Digital]) Doubled {
	for i, s := range slots {
		if len(s.By) > 0 {
			return Doubled{true, i, i}
		}
	}
	return Doubled{false, len(slots), len(slots)}
}

// settledTo is what may be left of the silence that new sections start from
// when they begin to be heard: -120 dB of what they put out.
const settledTo = 1e-6

// SettleSamples is how long the sections that run twice take to settle, in the
// worst choices: whole ticks.
func SettleSamples(s biquad.System[biquad.Digital]) int {
	s = Arranged(s)
	twice := DoubledOf(s)
	common := slowest(s.Common.Slots[twice[0].From:])
	n := settling(common)
	for i, w := range s.Ways {
		n = max(n, settling(append(slowest(w.Slots[twice[i+1].From:]), common...)))
	}
	return Tick * int(math.Ceil(n/Tick))
}

// slowest are the distances from the unit circle of the poles of each position,
// of its slowest alternative.
func slowest(slots []biquad.Slot[biquad.Digital]) []float64 {
	var out []float64
	for _, s := range slots {
		order, margin := 0, 1.0
		for _, d := range s.Alt {
			if m := d.PoleMargin(); d.Order() > 0 && m < margin {
				order, margin = d.Order(), m
			}
		}
		for range order {
			out = append(out, margin)
		}
	}
	return out
}

// settling is after how many samples no more than settledTo is left of an
// impulse through poles at such distances from the unit circle, as if all were
// real and positive, which is the slowest that they can be. It is Chernoff's
// bound of the tail: the sum of h[k] for k >= n is at most H(s)/sⁿ for every s
// between 1 and the inverse of the slowest pole; here H(1) is 1.
func settling(margins []float64) float64 {
	least := 1.0
	for _, m := range margins {
		least = math.Min(least, m)
	}
	if least == 1 {
		return 0
	}
	const steps = 64
	best := math.Inf(1)
	for i := 1; i < steps; i++ {
		logS := -math.Log1p(-least) * float64(i) / steps
		tail := -math.Log(settledTo)
		for _, m := range margins {
			if m < 1 {
				tail -= math.Log1p(-(1 - m) / m * math.Expm1(logS)) // (1-rs)/(1-r), r = 1-m
			}
		}
		best = math.Min(best, tail/logS)
	}
	return best
}

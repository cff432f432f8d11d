package verify

import (
	"math"

	"bandwright/biquad"
)

// stepUp is the relative step between a frequency and its companion, by which
// group delays are differenced: small against any filter's bandwidth, large
// against rounding (phase noise 1e-16 leaves 1e-13 s at 20 Hz).
const stepUp = 1e-5

// view is all responses in one combination: first at n frequencies, then at
// their n companions a factor 1+stepUp higher.
type view struct {
	hz    []float64      // n frequencies
	p, r  [][]complex128 // [way][2n]: prototype, realisation
	delay float64        // the realisation's common delay, s
	peak  []float64      // greatest prototype power of each way in the band
	known []known        // of each way, what several measures look at
}

// known is what has been worked out of a way in one view: nil, or at all n
// frequencies.
type known struct{ level, change []float64 }

// level is a way's prototype at frequency i, re its peak (dB).
func (v *view) level(way, i int) float64 {
	k := &v.known[way]
	if len(k.level) == 0 {
		for i := range v.hz {
			k.level = append(k.level, ratioDB(biquad.Power(v.p[way][i]), v.peak[way]))
		}
	}
	return k.level[i]
}

// change is a way's magnitude error at frequency i (dB).
func (v *view) change(way, i int) float64 {
	k := &v.known[way]
	if len(k.change) == 0 {
		for i := range v.hz {
			k.change = append(k.change, dbOfRatio(v.r[way][i], v.p[way][i]))
		}
	}
	return k.change[i]
}

// forget prepares for other responses.
func (v *view) forget() {
	for w := range v.known {
		v.known[w] = known{v.known[w].level[:0], v.known[w].change[:0]}
	}
}

// measure is one quantity over frequency, of a way or of the sum. value is
// signed; its magnitude is what counts. inside is ≥ 0 where the measure is
// taken and continuous, so that the edge of its domain can be found.
type measure struct {
	way    int
	needs  []int // the ways whose responses it looks at
	axes   []biquad.Axis
	value  func(v *view, i int) float64
	inside func(v *view, i int) float64
	// companions says that value looks at them as well.
	companions bool
	// zero is what a value of 0 means.
	zero float64
}

// always is the domain of a measure that is taken everywhere.
func always(*view, int) float64 { return 1 }

// MostErrorDB is the greatest error that is told apart (dB). Where one response
// has a zero that the other has not, the true error is without bound, and the
// search would chase rounding.
const MostErrorDB = 120.0

// lowestDB is how a level of nothing reads (dB).
const lowestDB = 600.0

// ratioDB is 10·lg(a/b) of two powers, within ±lowestDB.
func ratioDB(a, b float64) float64 {
	switch {
	case a == b:
		return 0
	case !(a > 0):
		return -lowestDB
	case !(b > 0):
		return lowestDB
	}
	// A quotient that over- or underflows lies beyond the lowest level anyway.
	return max(-lowestDB, min(lowestDB, 10/math.Ln10*math.Log(a/b)))
}

// dbOfRatio is 20·lg|r/p| within ±MostErrorDB, exact for ratios near one.
func dbOfRatio(r, p complex128) float64 {
	rp, pp := biquad.Power(r), biquad.Power(p)
	if rp == 0 || pp == 0 || rp > 2*pp || pp > 2*rp {
		return max(-MostErrorDB, min(MostErrorDB, ratioDB(rp, pp)))
	}
	// |r|²-|p|² as a product keeps the digits of a small difference.
	d := (real(r)-real(p))*(real(r)+real(p)) + (imag(r)-imag(p))*(imag(r)+imag(p))
	return 10 / math.Ln10 * math.Log1p(d/pp)
}

// magnitudeOf is the magnitude error (dB) of a way where its prototype is
// within downTo (dB, < 0) of its peak.
func magnitudeOf(way int, axes []biquad.Axis, downTo float64) measure {
	return measure{way: way, needs: []int{way}, axes: axes,
		value:  func(v *view, i int) float64 { return v.change(way, i) },
		inside: func(v *view, i int) float64 { return v.level(way, i) - downTo },
	}
}

// topOctaveOf is the magnitude error from fromHz (Hz) up.
func topOctaveOf(m measure, fromHz float64) measure {
	within := m.inside
	m.inside = func(v *view, i int) float64 {
		return min(within(v, i), math.Log2(v.hz[i]/fromHz))
	}
	return m
}

// phaseOf is the phase error (degrees) of a way after the common delay, where
// a neighbouring way's level is within 20 dB of its own and its own within
// downTo of its peak.
func phaseOf(way, ways int, axes []biquad.Axis, downTo float64) measure {
	near := []int{way}
	for _, n := range []int{way - 1, way + 1} {
		if n >= 0 && n < ways {
			near = append(near, n)
		}
	}
	return measure{way: way, needs: near, axes: axes,
		value: func(v *view, i int) float64 { return angle(v, way, i, v.hz[i]) * 180 / math.Pi },
		inside: func(v *view, i int) float64 {
			own := biquad.Power(v.p[way][i])
			within := biquad.NeighbourMarginDB(biquad.NeighbourDB, way, ways, func(n int) float64 { return ratioDB(biquad.Power(v.p[n][i]), own) })
			return min(within, v.level(way, i)-downTo)
		},
	}
}

// angle is arg(realised/prototype) after the common delay, in rad.
func angle(v *view, way, i int, hz float64) float64 {
	q := v.r[way][i] * conj(v.p[way][i])
	if q == 0 {
		return 0
	}
	q *= conj(biquad.Delay(hz, v.delay))
	return math.Atan2(imag(q), real(q))
}

// delayDownTo is how far below its peak a way's group delay is still compared
// (dB): lower it neither sums nor is heard.
const delayDownTo = -20

// groupDelayOf is the group-delay error (s) of a way after the common delay,
// within 20 dB of its peak.
func groupDelayOf(way int, axes []biquad.Axis) measure {
	return measure{way: way, needs: []int{way}, axes: axes, companions: true,
		value: func(v *view, i int) float64 {
			n := len(v.hz)
			// arg of (realised/prototype) at the companion over that at i.
			q := v.r[way][n+i] * conj(v.p[way][n+i]) * conj(v.r[way][i]*conj(v.p[way][i]))
			if q == 0 {
				return 0
			}
			return -math.Atan2(imag(q), real(q))/(2*math.Pi*v.hz[i]*stepUp) - v.delay
		},
		inside: func(v *view, i int) float64 { return v.level(way, i) - delayDownTo },
	}
}

// sumDownTo: the sum is judged where it is above -20 dB re the sum of the
// ways' magnitudes.
const sumDownTo = -20

// sumOf is the change (dB) of the summed ways' magnitude, where the ways do not
// cancel, and where the sum of their magnitudes is within downTo (dB, < 0) of
// its peak: where a common filter has a zero there is nothing to compare.
func sumOf(ways int, axes []biquad.Axis, downTo float64) measure {
	all := make([]int, ways)
	for w := range all {
		all[w] = w
	}
	return measure{way: ways, needs: all, axes: axes,
		value: func(v *view, i int) float64 {
			var p, r complex128
			for w := range ways {
				p += v.p[w][i]
				r += v.r[w][i]
			}
			return dbOfRatio(r, p)
		},
		inside: func(v *view, i int) float64 {
			var p complex128
			for w := range ways {
				p += v.p[w][i]
			}
			abs := magnitudes(v.p, i)
			return min(ratioDB(biquad.Power(p), abs*abs)-sumDownTo, ratioDB(abs*abs, v.peak[ways])-downTo)
		},
	}
}

// magnitudes is the sum of the ways' magnitudes at frequency i.
func magnitudes(h [][]complex128, i int) float64 {
	abs := 0.0
	for w := range h {
		abs += magnitude(h[w][i])
	}
	return abs
}

// peakOf is the output level (dB re full scale) for a full-scale sine at the
// input, with the input gain (linear).
func peakOf(way int, axes []biquad.Axis, inputGain float64) measure {
	g := biquad.GainDB(inputGain)
	return measure{way: way, needs: []int{way}, axes: axes, inside: always, zero: -lowestDB,
		// Levels are counted from the floor so that the greatest level has the
		// greatest magnitude.
		value: func(v *view, i int) float64 {
			return max(0, ratioDB(biquad.Power(v.r[way][i]), 1)+g+lowestDB)
		},
	}
}

func conj(z complex128) complex128 { return complex(real(z), -imag(z)) }

package diagnosis

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

const (
	// lateReach (s) is how far the delay of a measurement is sought from its first estimate, which is by the nominal
	// responses: a fault that turns phase moves that.
	lateReach = 200e-6
	// turned (rad) is from which turn on it is: less than that is in the covariance, with the delay's own.
	turned = 1.0
)

// phasor is by which angle a measurement differs from what it is compared with, at a frequency.
type phasor struct {
	hz     float64
	column int
	v      complex128
}

// lateOf is how much later (s, by column) than its first estimate a measurement is than what it is compared with, where any
// phase differs by so much that it may have gone once around; nil elsewhere.
func (x *Bench) lateOf(t *taken) []float64 {
	if !x.FitDelay || !x.Phased {
		return nil
	}
	t.phasors = t.phasors[:0]
	far, top := false, 0.0
	for i, at := range x.places {
		h, g, enough := t.now[i], t.h[at.column][at.f], 100*at.floor*at.floor
		if !t.known[at.column][at.f] || biquad.Power(h) < enough || biquad.Power(g) < enough {
			continue
		}
		v := g * cmplx.Conj(h)
		v /= complex(cmplx.Abs(v), 0)
		far = far || real(v) < math.Cos(turned)
		top = math.Max(top, x.hz[at.f])
		t.phasors = append(t.phasors, phasor{x.hz[at.f], at.column, v})
	}
	if !far {
		return nil
	}
	step := 1 / (8 * top)
	fits := x.fits(t, step)
	out := make([]float64, len(x.ways))
	for c := range out {
		if c == 0 || x.DelayEach {
			out[c] = step * summit(fits, x.fitted(c))
		} else {
			out[c] = out[0]
		}
	}
	return out
}

// fits are how well a measurement's phasors agree by column, at delays a step apart from -lateReach to lateReach.
func (x *Bench) fits(t *taken, step float64) [][]float64 {
	n := int(math.Ceil(lateReach / step))
	t.turns = t.turns[:0]
	for i := range t.phasors {
		p := &t.phasors[i]
		p.v *= cmplx.Conj(biquad.Delay(p.hz, -float64(n)*step))
		t.turns = append(t.turns, cmplx.Conj(biquad.Delay(p.hz, step)))
	}
	fits := make([][]float64, 2*n+1)
	sums := make([]complex128, len(x.ways))
	for k := range fits {
		clear(sums)
		for i := range t.phasors {
			p := &t.phasors[i]
			sums[p.column] += p.v
			p.v *= t.turns[i]
		}
		for _, s := range sums {
			fits[k] = append(fits[k], cmplx.Abs(s))
		}
	}
	return fits
}

// summit is where a column, or all together (-1), fit best, in steps from the middle: by a parabola through three.
func summit(fits [][]float64, column int) float64 {
	of := func(k int) float64 {
		if column >= 0 {
			return fits[k][column]
		}
		sum := 0.0
		for _, v := range fits[k] {
			sum += v
		}
		return sum
	}
	best := 0
	for k := range fits {
		if of(k) > of(best) {
			best = k
		}
	}
	at := float64(best - len(fits)/2)
	if best > 0 && best < len(fits)-1 {
		if curve := of(best-1) - 2*of(best) + of(best+1); curve < 0 {
			at += (of(best-1) - of(best+1)) / (2 * curve)
		}
	}
	return at
}

const (
	// apartS is how far ways are apart at least that were recorded at different moments (s), rareApart (its logarithm) how
	// much less likely it is, for each way but one, that it is late by just so much.
	apartS    = 2e-6
	rareApart = -10.0
)

// apart is the hypothesis that each way is late by a time of its own or, where the delay was not fitted, all by one, of
// a unit that is well but for that; false where that is no other than what was said.
func (x *Bench) apart(readings []Reading) (Hypothesis, bool) {
	if !x.Phased || x.DelayEach || x.FitDelay && len(x.ways) < 2 {
		return Hypothesis{}, false
	}
	own := x.separate()
	t := own.take(readings)
	t.whole = own.spaceOf(nil, t)
	h := Hypothesis{lnWeight: math.Log(structural) + rareApart}
	if x.FitDelay {
		first := slices.Min(t.delays)
		var said []string
		for c, w := range x.ways {
			if t.delays[c]-first >= apartS {
				said = append(said, x.subject.Ways[w]+" by "+words.Seconds(t.delays[c]-first))
			}
		}
		if said == nil {
			return Hypothesis{}, false
		}
		h.lnWeight += rareApart * float64(len(x.ways)-2)
		h.Text = "late beside the others: " + words.List(said) + ", as where ways were recorded one after the other (then say --delay each), or with a delay that the spec has not"
	} else {
		if math.Abs(t.delays[0]) < apartS {
			return Hypothesis{}, false
		}
		h.Text = "late by " + words.Seconds(t.delays[0]) + ": that of the bench (then leave --delay 0 out), or a delay that the spec has not"
	}
	h.square = t.whole.square(own.deviation(nil, t, own.nominalAt))
	h.lnWeight -= (h.square + t.whole.lnDet) / 2
	return h, true
}

// separate is the bench for the same unit with the delay fitted and, where it is already, for each way by itself.
func (x *Bench) separate() *Bench {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.each == nil {
		own := &Bench{Conditions: x.Conditions, C: x.C, Parts: x.Parts, subject: x.subject, board: x.board, ways: x.ways, index: x.index, hz: x.hz,
			nominal: x.nominal, peaks: x.peaks, ports: x.ports, places: x.places, share: x.share, amps: x.amps}
		own.FitDelay, own.DelayEach = true, x.FitDelay
		own.covariance = own.covarianceOf(nil)
		x.each = own
	}
	return x.each
}

package engine

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
)

// arranging is what orders of positions are weighed with before they are written: the
// responses of the filters, which are the same in all orders, and the norms of each set of
// them that may stand in front.
type arranging struct {
	engine   *Engine
	slots    []biquad.Slot[biquad.Digital]
	total    float64
	rateHz   float64
	settings int
	sines    bool
	mostDC   float64 // re full scale
	axes     []biquad.Axis

	at     []biquad.Point
	weight []float64        // share of a white noise's power at each frequency
	h      [][][]complex128 // filters by position, alternative and frequency, the last at 0 Hz
	// What the denominators make of a rounding: of the filters, and as the words have them.
	poles, wordPoles [][][]complex128
	most             []float64          // the largest scale that words hold, by position
	norms            map[string]float64 // by set
}

// laidOrder is an order with its words, position by position.
type laidOrder struct {
	order  []int
	scales []float64 // up to and with each
	words  [][]Words
}

// Orders are weighed at so many frequencies of the band that noise is promised in (Hz), and near the poles.
const orderPoints, orderFromHz, orderToHz = 200, 20, 20000

// harmlessDC is what may be left of it in any order (dB re full scale), a thousandth.
const harmlessDC = -60

// floor is the share of a path's greatest gain below which an error of the magnitude is held
// against that share: -40 dB.
const floor = 0.01

func (e *Engine) newArranging(slots []biquad.Slot[biquad.Digital], total, rateHz float64, settings int) *arranging {
	a := &arranging{engine: e, slots: slots, total: total, rateHz: rateHz, settings: settings, mostDC: math.Inf(1)}
	a.axes = biquad.Axes(biquad.Cascade[biquad.Digital]{Slots: slots})
	half := rateHz / 2
	top := math.Min(orderToHz, half)
	hz := biquad.Spaced(orderFromHz, top, orderPoints)
	for i := range slots {
		for _, d := range slots[i].Alt {
			hz = append(hz, around(d, rateHz, orderFromHz, top)...)
		}
		a.most = append(a.most, e.mostScale(&slots[i]))
	}
	hz = biquad.Ascending(hz, 0)
	a.weight = make([]float64, len(hz))
	for i := 1; i < len(hz); i++ { // trapezoids
		w := (hz[i] - hz[i-1]) / 2 / half
		a.weight[i-1] += w
		a.weight[i] += w
	}
	for _, f := range append(hz, 0) {
		a.at = append(a.at, biquad.PointAt(f, rateHz))
	}
	for i := range slots {
		var h, poles, wordPoles [][]complex128
		for _, d := range slots[i].Alt {
			h = append(h, a.response(d))
			d = biquad.Digital{B: [3]float64{1}, A: d.To(biquad.Direct).A}
			poles = append(poles, a.response(d))
			for k := range d.A {
				w, _ := e.word(d.A[k])
				d.A[k] = e.value(w)
			}
			d.A[0] = 1
			wordPoles = append(wordPoles, a.response(d))
		}
		a.h, a.poles, a.wordPoles = append(a.h, h), append(a.poles, poles), append(a.wordPoles, wordPoles)
	}
	return a
}

func (a *arranging) response(d biquad.Digital) []complex128 {
	out := make([]complex128, len(a.at))
	for i, p := range a.at {
		out[i] = d.At(p)
	}
	return out
}

// begin sets what scales go by.
func (a *arranging) begin(sines bool) { a.sines, a.norms = sines, map[string]float64{} }

// norm is the greatest gain of a set of positions, or, of few, its L1 norm where scales go by that.
func (a *arranging) norm(set []int) float64 {
	set = slices.Sorted(slices.Values(set))
	key := keyOf(set)
	if v, ok := a.norms[key]; ok {
		return v
	}
	worst := 0.0
	if !a.sines && len(a.slots) <= exhaustive {
		worst = boundOf(biquad.Cascade[biquad.Digital]{Gain: 1, Slots: biquad.Arranged(a.slots, set)}, a.settings)
	} else {
		axes := biquad.Axes(biquad.Cascade[biquad.Digital]{Slots: biquad.Arranged(a.slots, set)})
		biquad.Each(axes, a.settings, func(comb biquad.Combination) {
			for i := range a.at {
				h := complex128(1)
				for _, k := range set {
					h *= a.h[k][a.slots[k].Index(comb)][i]
				}
				worst = math.Max(worst, cmplx.Abs(h))
			}
		})
	}
	a.norms[key] = worst
	return worst
}

// laid is an order in words, as Chain.write makes them but for what their roundings do to
// the scales; nil where the engine cannot hold it.
func (a *arranging) laid(order []int) *laidOrder {
	o := &laidOrder{order: order, scales: make([]float64, len(order))}
	before := 1.0
	for i, k := range order {
		scale := a.total
		if i < len(order)-1 {
			scale = math.Min(math.Min(1, 1/a.norm(order[:i+1]))*a.engine.spare(), before*a.most[k])
		}
		var words []Words
		for _, d := range a.slots[k].Alt {
			w, _, wrong := a.engine.words(d, scale/before)
			if wrong != nil || !a.engine.stable(w) || a.engine.sumBits(w) > a.engine.Accumulator {
				return nil
			}
			words = append(words, w)
		}
		o.words, o.scales[i], before = append(o.words, words), scale, scale
	}
	return o
}

// allowed is a noise in decibels, +Inf where its DC is too much.
func (a *arranging) allowed(noise, dc float64) float64 {
	if dc > a.mostDC*(1+1e-9) {
		return math.Inf(1)
	}
	return biquad.GainDB(noise)
}

// noiseDB is the noise that an order is expected to have in its worst combination, in decibels re the RMS of a full-scale
// sine; +Inf where rounding down leaves too much DC.
func (a *arranging) noiseDB(o *laidOrder) float64 {
	noise, dc, last := 0.0, 0.0, len(a.at)-1
	step := math.Ldexp(1, 1-a.engine.Data)
	biquad.Each(a.axes, a.settings, func(comb biquad.Combination) {
		var power float64
		var still complex128
		for i := range a.at {
			behind, sum, moved := 1.0, 0.0, complex128(0)
			after := complex128(1)
			for n := len(o.order) - 1; n >= 0; n-- {
				k := o.order[n]
				alt := a.slots[k].Index(comb)
				if w := o.words[n][alt]; a.engine.rounds(w) {
					pole := a.poles[k][alt][i]
					gain := a.total / o.scales[n]
					sum += behind * gain * gain * biquad.Power(pole)
					moved += after * complex(gain, 0) * pole
				}
				behind *= biquad.Power(a.h[k][alt][i])
				after *= a.h[k][alt][i]
			}
			if i < last {
				power += sum * a.weight[i]
			} else if !a.engine.Nearest {
				still = moved
			}
		}
		noise, dc = math.Max(noise, math.Sqrt(2*power*step*step/12)), math.Max(dc, cmplx.Abs(still)*step/2)
	})
	return a.allowed(noise, dc)
}

// errorDB is the greatest change of the magnitude by the words of an order, in its worst combination: in
// decibels re the magnitude, or re floor of the greatest where that is more.
func (a *arranging) errorDB(o *laidOrder) float64 {
	n := len(a.at) - 1
	numerators := make([][][]complex128, len(o.order))
	for i := range o.order {
		for _, w := range o.words[i] {
			d := a.engine.digital(w)
			d.A = [3]float64{1}
			numerators[i] = append(numerators[i], a.response(d)[:n])
		}
	}
	worst, want, change := 0.0, make([]float64, n), make([]float64, n)
	biquad.Each(a.axes, a.settings, func(comb biquad.Combination) {
		peak := 0.0
		for i := range n {
			wanted, got := complex(a.total, 0), complex128(1)
			for at, k := range o.order {
				alt := a.slots[k].Index(comb)
				wanted *= a.h[k][alt][i]
				got *= numerators[at][alt][i] * a.wordPoles[k][alt][i]
			}
			want[i] = cmplx.Abs(wanted)
			change[i] = math.Abs(cmplx.Abs(got) - want[i])
			peak = math.Max(peak, want[i])
		}
		for i := range n {
			worst = math.Max(worst, change[i]/math.Max(want[i], floor*peak))
		}
	})
	return biquad.GainDB(worst)
}

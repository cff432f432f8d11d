package number

import (
	"math"

	"bandwright/biquad"
)

// ordering is what the order of a cascade's positions costs in fixed point: the noise at its
// end times the square of the greatest level inside, of a sine, as words with more room
// above are as much coarser. Switched positions count with the greatest of their
// alternatives.
type ordering struct {
	at              []biquad.Point
	weight          []float64   // of the frequencies: share of a white noise's power
	gain, noise     [][]float64 // of each position: |H|², and what becomes of its rounding at its output
	behind, through []float64   // work
}

// orderPoints are the frequencies that orders are judged at, orderFromHz the least.
const orderPoints, orderFromHz = 60, 10

func newOrdering(slots []biquad.Slot[biquad.Digital], rateHz float64) *ordering {
	half := rateHz / 2
	hz := biquad.Spaced(orderFromHz, 0.999*half, orderPoints)
	o := &ordering{at: points(hz, rateHz), weight: make([]float64, len(hz)), behind: make([]float64, len(hz)), through: make([]float64, len(hz))}
	for i := 1; i < len(hz); i++ { // trapezoids
		w := (hz[i] - hz[i-1]) / 2 / half
		o.weight[i-1] += w
		o.weight[i] += w
	}
	for _, s := range slots {
		o.gain, o.noise = append(o.gain, o.powers(s)), append(o.noise, o.noises(s))
	}
	return o
}

// noises is what becomes of the rounding of a position in words, as if it were to words in all forms: what forms
// differ by lies below what guard bits cost, which are those of the loudest place in all ways.
func (o *ordering) noises(s biquad.Slot[biquad.Digital]) []float64 {
	out := make([]float64, len(o.at))
	for i, p := range o.at {
		for _, d := range s.Alt {
			step := stepOf(d.Form)
			out[i] = math.Max(out[i], constantSources(d, p).y/(step*step)*transfersOf(d, p).y)
		}
	}
	return out
}

// powers is |H|² of a position.
func (o *ordering) powers(s biquad.Slot[biquad.Digital]) []float64 {
	out := make([]float64, len(o.at))
	for i, p := range o.at {
		for _, d := range s.Alt {
			out[i] = math.Max(out[i], biquad.Power(d.At(p)))
		}
	}
	return out
}

// cost of the positions in an order.
func (o *ordering) cost(order []int) float64 { return o.costBelow(order, math.Inf(1)) }

// costBelow is the cost where it is below a limit, and infinite where it is not: most orders
// that are tried are worse, and a part of their noise tells.
func (o *ordering) costBelow(order []int, limit float64) float64 {
	for i := range o.behind {
		o.behind[i], o.through[i] = 1, 1
	}
	sum, peak := 0.0, 1.0
	for _, k := range order {
		for i, g := range o.gain[k] {
			o.through[i] *= g
			if o.through[i] > peak {
				peak = o.through[i]
			}
		}
	}
	for n := len(order) - 1; n >= 0; n-- {
		gain := o.gain[order[n]]
		for i, v := range o.noise[order[n]] {
			sum += float64(float64(v*o.behind[i]) * o.weight[i])
			o.behind[i] *= gain[i]
		}
		if sum*peak >= limit {
			return math.Inf(1)
		}
	}
	for i, v := range o.behind { // the rounding of the gain in front
		sum += float64(v * o.weight[i])
	}
	return sum * peak
}

// best is the order that no move of one position and no exchange of two makes better, from
// the order that there is. A part in 1e9 is rounding, no reason to leave it.
func (o *ordering) best() []int {
	order := biquad.InPlace(len(o.gain))
	now := o.cost(order)
	return biquad.Improved(order, func(tried []int) bool {
		c := o.costBelow(tried, now*(1-1e-9))
		better := c < now*(1-1e-9)
		if better {
			now = c
		}
		return better
	})
}

// ordered is a cascade with its positions in the best order.
func ordered(c biquad.Cascade[biquad.Digital], rateHz float64) biquad.Cascade[biquad.Digital] {
	c.Slots = biquad.Arranged(c.Slots, newOrdering(c.Slots, rateHz).best())
	return c
}

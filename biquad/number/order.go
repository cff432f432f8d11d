package number

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// ordering is what the order of a cascade's positions costs in fixed point: the noise at its
// end, with each position's words as much coarser as the greatest level there, of a sine, asks for: levels.go
// gives each its own. Those that settings change, which run behind all others, and the last of the others
// share the greatest of theirs. Switched positions count with the greatest of their alternatives.
type ordering struct {
	at              []biquad.Point
	weight          []float64   // of the frequencies: share of a white noise's power
	gain, noise     [][]float64 // of each position: |H|², and what becomes of its rounding at its output
	switched        []bool      // positions that settings change run behind all others
	behind, through []float64   // work
	level           []float64   // of each place, work
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
		o.switched = append(o.switched, len(s.By) > 0)
	}
	o.level = make([]float64, len(slots))
	return o
}

// atEnd is what the rounding of the gain in front, and of each position in their order, is at the end.
func (o *ordering) atEnd() []float64 {
	for i := range o.behind {
		o.behind[i] = o.weight[i]
	}
	out := make([]float64, 1+len(o.gain))
	for n := len(o.gain) - 1; n >= 0; n-- {
		for i, v := range o.noise[n] {
			out[n+1] += float64(v * o.behind[i])
			o.behind[i] *= o.gain[n][i]
		}
	}
	for _, v := range o.behind {
		out[0] += v
	}
	return out
}

// noises is what becomes of the rounding of a position in words, as if it were to words in all forms.
func (o *ordering) noises(s biquad.Slot[biquad.Digital]) []float64 {
	out := make([]float64, len(o.at))
	for i, p := range o.at {
		for _, d := range s.Alt {
			step := stepOf(d.Form)
			out[i] = math.Max(out[i], constantSources(d, p, 0).y/(step*step)*transfersOf(d, p).y)
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

// cost of the positions in an order; infinite where one that settings change is in front of one that they do not.
func (o *ordering) cost(order []int) float64 { return o.costBelow(order, math.Inf(1)) }

// costBelow is the cost where it is below a limit, and infinite where it is not: most orders
// that are tried are worse, and a part of their noise tells.
func (o *ordering) costBelow(order []int, limit float64) float64 {
	for i := range o.behind {
		o.behind[i], o.through[i] = 1, 1
	}
	last := -1 // of the positions with levels of their own
	for n, k := range order {
		if n > 0 && o.switched[order[n-1]] && !o.switched[k] {
			return math.Inf(1)
		}
		if !o.switched[k] {
			last = n
		}
	}
	most := 1.0 // of what has no level of its own
	for n, k := range order {
		peak := 0.0
		for i, g := range o.gain[k] {
			o.through[i] *= g
			if o.through[i] > peak {
				peak = o.through[i]
			}
		}
		if o.level[n] = peak; n >= last && peak > most {
			most = peak
		}
	}
	sum := 0.0
	for n := len(order) - 1; n >= 0; n-- {
		k, level := order[n], most
		if n < last {
			level = o.level[n]
		}
		gain, part := o.gain[k], 0.0
		for i, v := range o.noise[k] {
			part += float64(float64(v*o.behind[i]) * o.weight[i])
			o.behind[i] *= gain[i]
		}
		if sum += float64(part * level); sum >= limit {
			return math.Inf(1)
		}
	}
	for i, v := range o.behind { // the rounding of the gain in front
		sum += float64(v * o.weight[i])
	}
	return sum
}

// best is the order that no move of one position and no exchange of two makes better, from
// the order that there is. A part in 1e9 is rounding, no reason to leave it.
func (o *ordering) best() []int {
	order := biquad.InPlace(len(o.gain))
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case o.switched[a] == o.switched[b]:
			return 0
		case o.switched[b]:
			return -1
		}
		return 1
	})
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

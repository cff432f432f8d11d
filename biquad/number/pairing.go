package number

import (
	"slices"

	"bandwright/biquad"
)

// worthwhile is the share by which an exchange of zeros has to lower an ordering's cost.
const worthwhile = 0.01

// paired is a cascade whose sections of one origin have exchanged zeros where that costs less
// noise and room: sections that were made together, of the second order, in positions
// without alternatives. Whatever it exchanges, the response of the whole stays.
func (f Format) paired(c biquad.Cascade[biquad.Digital], rateHz float64) biquad.Cascade[biquad.Digital] {
	free := exchangeable(c.Slots)
	if len(free) == 0 {
		return c
	}
	q := f.cascade(c, rateHz) // the forms, and so what becomes of roundings, are the poles' matter
	o := newOrdering(q.Slots, rateHz)
	slots := slices.Clone(c.Slots)
	order := o.best()
	now := o.cost(order)
	for again := true; again; {
		again = false
		for _, pair := range free {
			i, j := pair[0], pair[1]
			a, b := exchange(slots[i], slots[j])
			was := [2][]float64{o.gain[i], o.gain[j]}
			o.gain[i], o.gain[j] = o.powers(a), o.powers(b)
			if cost := o.cost(order); cost < now*(1-worthwhile) {
				slots[i], slots[j] = a, b
				now, again = cost, true
				// The search begins anew and may end somewhere worse: costs only fall, so
				// that this comes to an end.
				if best := o.best(); o.cost(best) < now {
					order, now = best, o.cost(best)
				}
				continue
			}
			o.gain[i], o.gain[j] = was[0], was[1]
		}
	}
	c.Slots = slots
	return c
}

// exchangeable is the pairs of positions that may exchange their zeros.
func exchangeable(slots []biquad.Slot[biquad.Digital]) [][2]int {
	whole := func(s biquad.Slot[biquad.Digital]) bool {
		return len(s.Alt) == 1 && s.Alt[0].A[2] != 0
	}
	var out [][2]int
	for j, b := range slots {
		for i, a := range slots[:j] {
			if whole(a) && whole(b) && slices.Equal(a.From, b.From) {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}

// exchange gives each of two positions the zeros of the other.
func exchange(a, b biquad.Slot[biquad.Digital]) (x, y biquad.Slot[biquad.Digital]) {
	p, q := a.Alt[0].To(biquad.Delta), b.Alt[0].To(biquad.Delta)
	p.B, q.B = q.B, p.B
	a.Alt, b.Alt = []biquad.Digital{p}, []biquad.Digital{q}
	return a, b
}

package number

import (
	"slices"

	"bandwright/biquad"
)

// Arranged is a system as the kernels run it: with the positions that settings change behind all others, so
// that while one changes only they run twice, and what is new settles by its own poles alone:
// what is in front of it has the same input and the same words before and after. Those of
// the common part go to the end of every way, if no more sections than now then run at once
// during a change; otherwise to the end of the common part. Sections of one kind or another
// in a row may change places: they are linear. What is arranged already stays as it is.
func Arranged(s biquad.System[biquad.Digital]) biquad.System[biquad.Digital] {
	s = each(s, func(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
		c.Slots = slices.Clone(c.Slots)
		slices.SortStableFunc(c.Slots, func(a, b biquad.Slot[biquad.Digital]) int { return min(len(a.By), 1) - min(len(b.By), 1) })
		return c
	})
	from := doubled(s.Common.Slots).From
	moved := s.Common.Slots[from:]
	alone := 0 // sections of ways that would run twice
	for _, w := range s.Ways {
		alone += doubled(w.Slots).From
	}
	late := s.Common.DelayS > 0 || slices.ContainsFunc(s.Ways, func(w biquad.Way[biquad.Digital]) bool { return w.DelayS > 0 })
	if !late && 2*(len(s.Ways)-1)*len(moved) > alone {
		return s
	}
	s.Common.Slots = s.Common.Slots[:from:from]
	for i := range s.Ways {
		s.Ways[i].Slots = append(s.Ways[i].Slots, moved...)
	}
	return s
}

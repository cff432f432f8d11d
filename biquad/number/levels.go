package number

import (
	"math"

	"bandwright/biquad"
)

// Levels inside a cascade. Every position's output may stand in words that are larger or smaller by a
// power of two than what it is: its numerator takes the factor, the next one's takes it back, and no
// instruction is added. So a place that is loud inside asks for no guard bits of the whole, and one that
// is quiet has more words (L. B. Jackson, On the interaction of roundoff noise and dynamic range in digital
// filters, Bell System Tech. J. 49(2), 1970). Positions that settings change stay as they are, as many of them
// are no section at all in some choice, and so does what stands behind the last of the others.

// quieter is how many powers of two below the greatest that a place may have are tried.
const quieter = 4

// levelled is a system, unrounded and in words, with the levels that have the least noise with the format's
// guard bits; false where there are none with them. reached is Reaches of each way as it is; made is of the common
// cascade and of each way's, and is the same whatever the guard bits.
func (f Format) levelled(ideal, kept biquad.System[biquad.Digital], inputGain, rateHz float64, reached [][]Reach, made []positionsMade) (_, _ biquad.System[biquad.Digital], ok bool) {
	ideal, kept = each(ideal, cloned), each(kept, cloned)
	common := len(Arranged(kept).Common.Slots)
	l := f.newLevelling(ideal.Common, kept.Common, reached[0], made[0], rateHz)
	l.gain = math.Ldexp(inputGain*ideal.Common.Gain, -f.GuardBits)
	if ok = l.find(); ok {
		l.apply(&ideal.Common, &kept.Common)
	}
	for k := range kept.Ways {
		if !ok {
			break
		}
		i, w := &ideal.Ways[k].Cascade, &kept.Ways[k].Cascade
		way := f.newLevelling(*i, *w, reached[k][1+common:], made[k+1], rateHz)
		if ok = way.find(); ok {
			way.apply(i, w)
		}
	}
	return ideal, kept, ok
}

func cloned(c biquad.Cascade[biquad.Digital]) biquad.Cascade[biquad.Digital] {
	c.Slots = append([]biquad.Slot[biquad.Digital](nil), c.Slots...)
	return c
}

// levelling is the search of one cascade: places are its gain and its positions without alternatives.
type levelling struct {
	f           Format // with the guard bits that are tried
	any         Format // in which errors of sections are told
	rateHz      float64
	gain        float64                       // the word, as it is without a factor
	ideal, kept []biquad.Slot[biquad.Digital] // the positions
	reach       []Reach                       // of each place
	noise       []float64                     // what the rounding at each place is at the end
	made        positionsMade
	found       []int // exponents of the places
}

// positionsMade are the results of with, by position and power of two.
type positionsMade map[[2]int]*biquad.Slot[biquad.Digital]

func (f Format) newLevelling(ideal, kept biquad.Cascade[biquad.Digital], reached []Reach, made positionsMade, rateHz float64) *levelling {
	n := fixedOf(kept.Slots)
	l := &levelling{f: f, any: f.fitted(anyGuard), rateHz: rateHz, gain: ideal.Gain, ideal: ideal.Slots[:n], kept: kept.Slots[:n], reach: reached[:n+1], made: made}
	l.noise = newOrdering(l.kept, rateHz).atEnd()
	return l
}

// fixedOf is how many positions from the front have no alternatives.
func fixedOf(slots []biquad.Slot[biquad.Digital]) int {
	for i, s := range slots {
		if len(s.By) > 0 {
			return i
		}
	}
	return len(slots)
}

// levels are the exponents that are tried at a place; at the last there is none but 0.
func (l *levelling) levels(place int) []int {
	if place == len(l.reach)-1 {
		return []int{0}
	}
	_, e := math.Frexp(l.reach[place].Y)
	most := l.f.GuardBits - e
	var out []int
	for c := most + 1; c >= most-quieter; c-- {
		out = append(out, c)
	}
	return out
}

// find looks for the levels with the least noise, place by place: what is behind a place asks only for its level.
func (l *levelling) find() bool {
	type way struct {
		noise float64
		from  int
	}
	paths := make([]map[int]way, len(l.reach))
	for place := range l.reach {
		paths[place] = map[int]way{}
		for _, c := range l.levels(place) {
			own := math.Ldexp(l.noise[place], -2*c)
			if place == 0 {
				if l.gainFits(c) {
					paths[0][c] = way{noise: own}
				}
				continue
			}
			for _, from := range l.levels(place - 1) {
				before, is := paths[place-1][from]
				if !is {
					continue
				}
				now, any := paths[place][c]
				if noise := before.noise + own; (!any || noise < now.noise) && l.fits(place, from, c) {
					paths[place][c] = way{noise, from}
				}
			}
		}
	}
	last := len(l.reach) - 1
	if _, is := paths[last][0]; !is {
		return false
	}
	l.found = make([]int, len(l.reach))
	for place := last; place > 0; place-- {
		l.found[place-1] = paths[place][l.found[place]].from
	}
	return true
}

// gainFits reports whether the gain with a factor is a word, and what comes of it stays in words.
func (l *levelling) gainFits(c int) bool {
	return math.Ldexp(math.Abs(l.gain), c) <= l.f.most && l.f.holds(node{}, 0, l.reach[0].by(c), l.f.GuardBits)
}

// fits reports whether a position may stand between two levels.
func (l *levelling) fits(place, from, to int) bool {
	slot := l.with(place-1, to-from)
	if slot == nil {
		return false
	}
	return l.f.holds(node{slot: slot}, l.reach[place-1].by(from).Y, l.reach[place].by(to), l.f.GuardBits)
}

// by is what is reached with a factor of two to the power of c.
func (r Reach) by(c int) Reach {
	return Reach{math.Ldexp(r.Y, c), math.Ldexp(r.P, c), math.Ldexp(r.Q, c)}
}

// with is a position with a factor of two to the power of c in the form that it has, so that it costs the same;
// nil where no words hold it as well.
func (l *levelling) with(i, c int) *biquad.Slot[biquad.Digital] {
	key := [2]int{i, c}
	if slot, known := l.made[key]; known {
		return slot
	}
	l.made[key] = nil
	slot := l.kept[i]
	if c == 0 {
		l.made[key] = &slot
		return &slot
	}
	refs := aims(lifted(l.ideal[i], c).Alt, l.rateHz)
	alt, err, stable := l.any.keep(refs, slot.Alt[0].Form)
	if !stable || l.any.beyond(alt[0]) {
		return nil
	}
	if err.TotalDB > l.f.EnoughDB {
		alt, err = l.any.adjusted(refs, alt)
	}
	if err.CoefficientDB > math.Max(l.f.EnoughDB, slot.Error.CoefficientDB) {
		return nil
	}
	err.Passed = slot.Error.Passed
	slot.Alt, slot.Error = alt, err
	l.made[key] = &slot
	return &slot
}

// lifted is a position with a factor of two to the power of c.
func lifted(s biquad.Slot[biquad.Digital], c int) biquad.Slot[biquad.Digital] {
	alt := s.Alt
	s.Alt = nil
	for _, d := range alt {
		for k := range d.B {
			d.B[k] = math.Ldexp(d.B[k], c)
		}
		s.Alt = append(s.Alt, d)
	}
	return s
}

// apply gives cascades the levels that were found.
func (l *levelling) apply(ideal, kept *biquad.Cascade[biquad.Digital]) {
	ideal.Gain = math.Ldexp(ideal.Gain, l.found[0])
	kept.Gain = l.f.Round(ideal.Gain)
	for i := range l.kept {
		c := l.found[i+1] - l.found[i]
		kept.Slots[i] = *l.with(i, c)
		ideal.Slots[i] = lifted(ideal.Slots[i], c)
	}
}

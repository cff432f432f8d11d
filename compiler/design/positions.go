package design

import (
	"bandwright/biquad"
	"bandwright/compiler/language"
)

// prototype puts every filter into positions of the prototype.
func (r *resolved) prototype() biquad.System[biquad.Analog] {
	out := biquad.System[biquad.Analog]{Common: r.cascade(r.common)}
	for i, w := range r.spec.Ways {
		c := r.cascade(r.ways[i])
		c.Gain *= biquad.FromDB(w.GainDB)
		c.DelayS += w.DelayS
		out.Ways = append(out.Ways, biquad.Way[biquad.Analog]{Name: w.Name, Polarity: polarity(w), Cascade: c})
	}
	return out
}

func polarity(w language.Way) float64 {
	if w.Inverted {
		return -1
	}
	return 1
}

// cascade lays filters out in positions. Filters without a condition have
// positions of their own; consecutive filters whose conditions exclude each
// other share positions, so that a switch swaps coefficients and no more.
func (r *resolved) cascade(lines []line) biquad.Cascade[biquad.Analog] {
	c := biquad.Cascade[biquad.Analog]{Gain: 1}
	for len(lines) > 0 {
		if l := lines[0]; len(l.When) == 0 {
			c.Gain *= l.ideal.Gain
			c.DelayS += l.ideal.DelayS
			for _, s := range l.ideal.Sections {
				slot := biquad.Fixed(s, l.Label())
				slot.Method = l.Method
				c.Slots = append(c.Slots, slot)
			}
			lines = lines[1:]
			continue
		}
		n := 1
		for n < len(lines) && lines[n].Method == lines[0].Method && excludesAll(lines[n], lines[:n]) {
			n++
		}
		c.Slots = append(c.Slots, r.switched(lines[:n])...)
		lines = lines[n:]
	}
	return c
}

// excludesAll reports whether no combination applies l together with any of
// the others.
func excludesAll(l line, others []line) bool {
	for _, o := range others {
		if !excludes(l, o) {
			return false
		}
	}
	return true
}

func excludes(a, b line) bool {
	for _, x := range a.When {
		for _, y := range b.When {
			if x.Setting == y.Setting && !common(x.Choices, y.Choices) {
				return true
			}
		}
	}
	return false
}

// common reports whether two ascending lists share an element.
func common(a, b []int) bool {
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0] == b[0]:
			return true
		case a[0] < b[0]:
			a = a[1:]
		default:
			b = b[1:]
		}
	}
	return false
}

// switched makes the shared positions of filters that exclude each other.
func (r *resolved) switched(lines []line) []biquad.Slot[biquad.Analog] {
	var axes []biquad.Axis
	positions := 0
	sections := make([][]biquad.Analog, len(lines))
	for i, l := range lines {
		sections[i] = l.ideal.Sections
		if l.ideal.Gain != 1 {
			// A gain under a setting is a section like any other.
			sections[i] = append([]biquad.Analog{biquad.Constant(l.ideal.Gain)}, sections[i]...)
		}
		positions = max(positions, len(sections[i]))
		for _, w := range l.When {
			axes = insert(axes, biquad.Axis{Setting: w.Setting, Choices: len(r.spec.Settings[w.Setting].Choices)})
		}
	}
	var out []biquad.Slot[biquad.Analog]
	for p := range positions {
		slot := biquad.Slot[biquad.Analog]{By: axes, Method: lines[0].Method}
		alternative := map[int]uint8{} // line → index in Alt
		all := ""
		for i, l := range lines {
			if p < len(sections[i]) {
				alternative[i] = uint8(len(slot.Alt))
				slot.Alt = append(slot.Alt, sections[i][p])
				slot.From = append(slot.From, l.Label())
				if all != "" {
					all += " + "
				}
				all += l.Label()
			}
		}
		through := -1
		biquad.Each(axes, len(r.spec.Settings), func(c biquad.Combination) {
			for i, l := range lines {
				if k, ok := alternative[i]; ok && applies(l, c) {
					slot.Pick = append(slot.Pick, k)
					return
				}
			}
			if through < 0 {
				through = len(slot.Alt)
				slot.Alt = append(slot.Alt, biquad.Constant(1))
				slot.From = append(slot.From, all)
			}
			slot.Pick = append(slot.Pick, uint8(through))
		})
		out = append(out, slot)
	}
	return out
}

func applies(l line, c biquad.Combination) bool {
	for _, w := range l.When {
		if !common(w.Choices, []int{int(c[w.Setting])}) {
			return false
		}
	}
	return true
}

// insert adds an axis in ascending order of settings, once.
func insert(axes []biquad.Axis, ax biquad.Axis) []biquad.Axis {
	i := 0
	for i < len(axes) && axes[i].Setting < ax.Setting {
		i++
	}
	if i < len(axes) && axes[i].Setting == ax.Setting {
		return axes
	}
	return append(axes[:i], append([]biquad.Axis{ax}, axes[i:]...)...)
}

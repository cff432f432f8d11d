package result

import (
	"bytes"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// box is a set of combinations that all pick one alternative: for each axis of
// a slot the choices allowed, nil for all of them.
type box struct {
	alternative int
	choices     [][]int
}

// cover divides a slot's combinations into boxes, so that every combination
// lies in exactly one. It goes axis by axis: choices whose remaining tables are
// equal stay together, and what remains is divided alone. For a filter under
// {a: x, b: y} that gives {a: others}, {a: x, b: y} and {a: x, b: others}.
func cover[S any](s biquad.Slot[S]) []box {
	if len(s.By) == 0 {
		return []box{{alternative: 0}}
	}
	return divide(s.By, s.Pick)
}

func divide(by []biquad.Axis, pick []uint8) []box {
	if len(by) == 0 {
		return []box{{alternative: int(pick[0])}}
	}
	rest := len(pick) / by[0].Choices
	part := func(choice int) []uint8 { return pick[choice*rest : (choice+1)*rest] }
	var groups [][]int
next:
	for choice := range by[0].Choices {
		for g := range groups {
			if bytes.Equal(part(groups[g][0]), part(choice)) {
				groups[g] = append(groups[g], choice)
				continue next
			}
		}
		groups = append(groups, []int{choice})
	}
	var out []box
	for _, g := range groups {
		for _, b := range divide(by[1:], part(g[0])) {
			allowed := g
			if len(groups) == 1 {
				allowed = nil
			}
			b.choices = append([][]int{allowed}, b.choices...)
			out = append(out, b)
		}
	}
	return out
}

// when names the box's settings and choices: nil where it holds everything.
func (b box) when(by []biquad.Axis, settings []verify.Setting) map[string][]string {
	var m map[string][]string
	for i, allowed := range b.choices {
		if allowed == nil {
			continue
		}
		if m == nil {
			m = map[string][]string{}
		}
		s := settings[by[i].Setting]
		for _, choice := range allowed {
			m[s.Name] = append(m[s.Name], s.Choices[choice])
		}
	}
	return m
}

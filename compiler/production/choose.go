package production

import (
	"math"
	"slices"
)

const (
	// fewestPoints and mostPoints are how many frequencies a test has, where the way is not
	// narrower than that.
	fewestPoints, mostPoints = 8, 12
	// plain is how many half widths of the limits a fault has to move the level so that
	// hardly any board with it passes: to the limit, and as far again for parts that happen
	// to make up for it.
	plain = 2.5
	// worthwhile is the least that one more frequency than the fewest has to bring, in half
	// widths of the limits over all faults.
	worthwhile = 0.5
	// aTie is a difference that another processor's rounding may make.
	aTie = 1e-9
)

// choose chooses the frequencies of every test, by which one brings most: how much plainer
// the faults are that no frequency so far shows plainly, in any test of the way or, with
// less weight, in this one.
func (s *survey) choose() {
	var known []float64 // by fault: how plain it is by the tests of the way so far
	for k, x := range s.tests {
		if k == 0 || s.tests[k-1].way != x.way {
			known = make([]float64, len(s.faults))
		}
		here := make([]float64, len(s.faults))
		for len(x.chosen) < mostPoints {
			best, most := -1, math.Inf(-1)
			for i, usable := range x.usable {
				if !usable || slices.Contains(x.chosen, i) {
					continue
				}
				if gain := x.gain(i, known, here) + x.room(i); gain > most+aTie {
					best, most = i, gain
				}
			}
			if best < 0 || len(x.chosen) >= fewestPoints && most < worthwhile {
				break
			}
			x.chosen = append(x.chosen, best)
			for n, t := range x.telling {
				if t != nil {
					known[n], here[n] = math.Max(known[n], t[best]), math.Max(here[n], t[best])
				}
			}
		}
		slices.Sort(x.chosen)
	}
}

// gain is what one more frequency brings.
func (x *tested) gain(i int, known, here []float64) float64 {
	const ownWeight = 0.1
	gain := 0.0
	for n, t := range x.telling {
		if t == nil {
			continue
		}
		v := math.Min(t[i], plain)
		gain += math.Max(0, v-known[n]) + ownWeight*math.Max(0, v-here[n])
	}
	return gain
}

// room prefers, of frequencies that bring the same, the one farthest from those chosen.
func (x *tested) room(i int) float64 {
	const weight = 1e-3
	nearest := len(x.usable)
	for _, k := range x.chosen {
		nearest = min(nearest, max(i-k, k-i))
	}
	return weight * float64(nearest) / float64(len(x.usable))
}

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
		here, by := make([]float64, len(s.faults)), x.plainly()
		// What a frequency brought is the most that it can bring from then on.
		bring := slices.Repeat([]float64{math.Inf(1)}, len(x.usable))
		for len(x.chosen) < mostPoints {
			best, most := -1, math.Inf(-1)
			for i, usable := range x.usable {
				if !usable || slices.Contains(x.chosen, i) {
					continue
				}
				room := x.room(i)
				if !(bring[i]+room > most+aTie) {
					continue
				}
				bring[i] = gain(by[i], known, here)
				if gain := bring[i] + room; gain > most+aTie {
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

// plainly is how plain each usable frequency makes every fault, plain at most.
func (x *tested) plainly() [][]float64 {
	by := make([][]float64, len(x.usable))
	for i, usable := range x.usable {
		if usable {
			by[i] = make([]float64, len(x.telling))
		}
	}
	for n, t := range x.telling {
		for i, v := range t {
			if by[i] != nil {
				by[i][n] = min(v, plain)
			}
		}
	}
	return by
}

// gain is what one more frequency brings, by how plain it makes every fault.
func gain(by, known, here []float64) float64 {
	const ownWeight = 0.1
	gain := 0.0
	known, here = known[:len(by)], here[:len(by)]
	for n, v := range by {
		more := max(0, v-known[n])
		if own := v - here[n]; own > 0 {
			more += ownWeight * own
		}
		gain += more
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

package assign

import (
	"math"

	"bandwright/biquad"
)

// pathError is the largest error (dB) of a path whose stages have the errors e and
// more, or more than limit as soon as that is clear.
func (a *arrangement) pathError(n int, e, more Errors, limit float64) float64 {
	t := &a.p.paths[n]
	worst, at := 0.0, -1
	for _, k := range t.at {
		if x := math.Abs(e.DB[k] + more.DB[k] + t.extraDB[k]); x > worst {
			worst, at = x, k
			if worst > limit {
				a.exceeds(n, k)
				return worst
			}
		}
	}
	if at >= 0 {
		a.exceeds(n, at)
	}
	for _, k := range t.turns {
		if x := math.Abs(e.Rad[k]+more.Rad[k]) * t.PerRad[k]; x > worst {
			if worst = x; worst > limit {
				break
			}
		}
	}
	return worst
}

// sumError is the largest error (dB) of a sum, where no path stands alone, with the
// errors e and more of the paths; infinite where it is above limit.
func (a *arrangement) sumError(n int, e, more []Errors, limit float64) float64 {
	high, low := math.MaxFloat64, 0.0 // ratios of power within limit
	if !math.IsInf(limit, 1) {
		high = biquad.FromDB(limit)
		high *= high
		low = 1 / high
	}
	top, bottom, highest, lowest := 1.0, 1.0, 0, 0
	near := a.near[n]
	for i, k := range near {
		p := a.power(n, k, e, more)
		if p > high || p < low {
			toFront(near, i)
			return math.Inf(1)
		}
		if p > top {
			top, highest = p, i
		}
		if p < bottom {
			bottom, lowest = p, i
		}
	}
	if top*bottom > 1 {
		toFront(near, highest)
	} else {
		toFront(near, lowest)
	}
	return decibels(top, bottom)
}

// glanced is at how many of the frequencies that exceeded a limit or were the worst last
// a glance looks.
const glanced = 3

// glance is what a sum is off by at least, up or down, as a ratio of powers.
func (a *arrangement) glance(n int, e, more []Errors) float64 {
	top, bottom := 1.0, 1.0
	near := a.near[n]
	for _, k := range near[:min(glanced, len(near))] {
		p := a.power(n, k, e, more)
		if p > top {
			top = p
		}
		if p < bottom {
			bottom = p
		}
	}
	if top*bottom > 1 {
		return top
	}
	return 1 / bottom
}

// glanceAt is what a path's error (dB) is at least.
func (a *arrangement) glanceAt(n int, e, more Errors) float64 {
	t, worst := &a.p.paths[n], 0.0
	if len(t.at) == 0 {
		return 0
	}
	for _, k := range a.binding[n] {
		if x := math.Abs(e.DB[k] + more.DB[k] + t.extraDB[k]); x > worst {
			worst = x
		}
	}
	return worst
}

// decibels is the greater one of a ratio of powers above 1 and of one below.
func decibels(top, bottom float64) float64 {
	return math.Max(10*math.Log10(top), -10*math.Log10(math.Max(bottom, math.SmallestNonzeroFloat64)))
}

// toFront moves one of a list to its front.
func toFront(list []int, i int) {
	if i == 0 || len(list) == 0 {
		return
	}
	k := list[i]
	copy(list[1:i+1], list[:i])
	list[0] = k
}

// power is that of a sum over what is wanted at a frequency, with the errors e and more
// of its paths. Errors of paths are small, so that three terms of the exponential series
// give more digits than are compared.
func (a *arrangement) power(n, k int, e, more []Errors) float64 {
	m := &a.p.sums[n]
	var re, im float64
	for s, p := range m.Paths {
		u, v := exponential((e[p].DB[k]+more[p].DB[k])/perNeper, e[p].Rad[k]+more[p].Rad[k])
		h := m.share[s][k]
		re += float64(real(h)*u) - float64(imag(h)*v)
		im += float64(real(h)*v) + float64(imag(h)*u)
	}
	return float64(re*re) + float64(im*im)
}

// exponential is that series: 1 + z(1 + z/2(1 + z/3)) for z = x+jy.
func exponential(x, y float64) (u, v float64) {
	u, v = 1+x/3, y/3
	u, v = 1+(float64(x*u)-float64(y*v))/2, (float64(x*v)+float64(y*u))/2
	return 1 + float64(x*u) - float64(y*v), float64(x*v) + float64(y*u)
}

// exactSum is sumError as plans tell it: without the series, and where one path
// stands alone too.
func (a *arrangement) exactSum(n int) float64 {
	m := &a.p.sums[n]
	worst := 0.0
	for _, k := range m.at {
		var sum complex128
		for i, p := range m.Paths {
			s, c := math.Sincos(a.rows[p].Rad[k])
			g := biquad.FromDB(a.rows[p].DB[k])
			sum += m.share[i][k] * complex(g*c, g*s)
		}
		worst = math.Max(worst, math.Abs(biquad.DB(sum)))
	}
	return worst
}

// The active constraints of a search are the frequencies at which paths and sums
// last exceeded a limit, or were the worst; they are looked at first, as most choices fail there again. Of
// paths some are remembered; of sums all frequencies stand in the order of when they did.

// remembered is how many of them are kept of a path.
const remembered = 4

// exceeds takes note that a path exceeded a limit at frequency k, or was the worst there.
func (a *arrangement) exceeds(path, k int) {
	last := &a.binding[path]
	for i := range last {
		if last[i] == k {
			return
		}
	}
	copy(last[1:], last[:remembered-1])
	last[0] = k
}

// feasible are those of a list of choices of stage j whose errors are within limit at
// the active constraints of a path that has the errors base and own (dB) without them:
// all or none where the path does not pass the stage.
func (a *arrangement) feasible(list []int, path, j int, base, own []float64, limit float64) []int {
	t := &a.p.paths[path]
	for _, k := range a.binding[path] {
		r := base[k] + own[k] + t.extraDB[k]
		if !t.passes(j) {
			if math.Abs(r) > limit {
				return list[:0]
			}
			continue
		}
		column, kept := a.p.tables[j].column[k], list[:0]
		for _, c := range list {
			if math.Abs(r+column[c]) <= limit {
				kept = append(kept, c)
			}
		}
		if list = kept; len(list) == 0 {
			break
		}
	}
	return list
}

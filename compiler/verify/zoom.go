package verify

import (
	"cmp"
	"math"
	"slices"
)

// aTie is the relative difference of values that rounding may make: of such the one with
// fewer settings changed stands.
const aTie = 1e-9

// rounded is an estimate without what rounding makes of it.
func (c candidate) rounded() float64 { return math.Round(c.estimate * 1e10) }

// worst zooms into the places that may hold the maximum, or that decide whether
// a combination keeps the bound, and returns the maximum and how many
// combinations pass the bound.
func (s *search) worst(t *tally) (w found, broken int) {
	// Places that are equal but for rounding belong to settings that do not
	// move them: one stands for all.
	type place struct{ lo, hi, rounded float64 }
	seen := map[place]float64{}
	zoomed := func(c candidate) float64 {
		key := place{c.lo, c.hi, c.rounded()}
		v, ok := seen[key]
		if !ok {
			f := s.zoom(t, c)
			v = math.Abs(f.value)
			seen[key] = v
			if f.ok && (!w.ok || v > math.Abs(w.value)*(1+aTie)) {
				w = f
			}
		}
		return v
	}
	// The greatest of all: from the best estimate down, of equal ones in the order of
	// combinations, until no estimate can beat what was found.
	var all []candidate
	for _, cs := range t.each {
		all = append(all, cs...)
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.rounded(), a.rounded()) })
	for _, c := range all {
		if w.ok && c.estimate*(1+slack) < math.Abs(w.value) {
			break
		}
		zoomed(c)
	}
	if !t.bound.on {
		return w, 0
	}
	if s.levels {
		return w, t.above(math.Abs(w.value))
	}
	for _, cs := range t.each {
		for _, c := range cs {
			value := c.at
			if value <= t.bound.at && c.estimate*(1+slack) > t.bound.at {
				value = zoomed(c)
			}
			if value > t.bound.at {
				broken++
				break
			}
		}
	}
	return w, broken
}

// above is how many combinations pass the bound by their estimates, at least one
// where the maximum does and none where it does not: levels are counted from a
// floor so low that a part of them says nothing of how sure an estimate is.
func (t *tally) above(most float64) int {
	if !(most > t.bound.at) {
		return 0
	}
	count := 0
	for _, cs := range t.each {
		if len(cs) > 0 && cs[0].estimate > t.bound.at {
			count++
		}
	}
	return max(1, count)
}

// zoomPoints is the number of frequencies on either side of the best in each
// step of a zoom, both ends counted; every step narrows the interval eight times.
const zoomPoints = 9

// A zoom ends where all that a step looked at is level, relative, and so near together
// that the frequency's printed digits stand: around a smooth maximum the next step finds a
// sixty-fourth of the difference more. At the edge of a domain, where what is sought
// changes with the distance, it goes on.
const zoomLevel, zoomNear = 1e-11, 1e-4

// zoom finds the maximum of a measure inside a candidate's interval to the
// last digits of the frequency that matter. Each step keeps the best point so
// far among its own, so that nothing found is lost again.
func (s *search) zoom(t *tally, c candidate) found {
	lo, mid, hi := c.lo, c.mid, c.hi
	peaks := s.truePeaks(t, c.c)
	best := found{c: c.c}
	for range 14 {
		hz := append(between(lo, mid)[:zoomPoints-1], between(mid, hi)...)
		v := s.glance(hz, c.c, &t.measure)
		copy(v.peak, peaks)
		at, near := -1, 0
		most, least, edge := 0.0, math.Inf(1), false
		for i := range hz {
			if in := t.inside(v, i); in < 0 {
				if edge = true; in > t.inside(v, near) {
					near = i
				}
				continue
			}
			x := math.Abs(t.value(v, i))
			if least = math.Min(least, x); at < 0 || x > most {
				at, most = i, x
			}
		}
		if at < 0 {
			at = near // nothing inside yet: on towards where it is nearest
		} else if f := t.value(v, at); !best.ok || math.Abs(f) >= math.Abs(best.value) {
			best = found{ok: true, value: f, hz: hz[at], c: c.c}
		}
		level := !edge && most-least <= zoomLevel*most && hi-lo <= zoomNear*hi
		if lo, mid, hi = hz[max(0, at-1)], hz[at], hz[min(len(hz)-1, at+1)]; level || hi-lo <= 1e-12*hi {
			break
		}
	}
	return best
}

// truePeaks is the greatest prototype power in combination c of the way that
// the measure is of, or of the sum of magnitudes, found by zooming into the
// grid's humps. The others stay zero.
func (s *search) truePeaks(t *tally, c Combination) []float64 {
	peaks := make([]float64, len(s.subject.Ways)+1)
	key := peakKey(t.way, c)
	if p, ok := s.peaks[key]; ok || s.levels {
		peaks[t.way] = p
		return peaks
	}
	ways := []int{t.way}
	if t.way == len(s.subject.Ways) {
		ways = t.needs
	}
	best, n := 0.0, len(s.hz)
	for _, i := range s.humps[key] {
		lo, hi := s.hz[max(0, int(i)-1)], s.hz[min(n-1, int(i)+1)]
		best = math.Max(best, s.powers(ways, c, s.hz[i:i+1])[0])
		for range 8 {
			hz := between(lo, hi)
			q := s.powers(ways, c, hz)
			k := 0
			for i := range q {
				if q[i] > q[k] {
					k = i
				}
			}
			best = math.Max(best, q[k])
			lo, hi = hz[max(0, k-1)], hz[min(zoomPoints-1, k+1)]
		}
	}
	peaks[t.way], s.peaks[key] = best, best
	return peaks
}

// powers is the square of the sum of the ways' prototype magnitudes at hz.
func (s *search) powers(ways []int, c Combination, hz []float64) []float64 {
	out := make([]float64, len(hz))
	h := make([]complex128, len(hz))
	ideal := s.subject.Prototype.Near(hz)
	for _, w := range ways {
		ideal.Response(h, w, c)
		for i, z := range h {
			out[i] += magnitude(z)
		}
	}
	for i := range out {
		out[i] *= out[i]
	}
	return out
}

// between are the frequencies of one step of a zoom.
func between(lo, hi float64) []float64 {
	hz := make([]float64, zoomPoints)
	for i := range hz {
		hz[i] = lo + (hi-lo)*float64(i)/(zoomPoints-1)
	}
	return hz
}

package verify

import (
	"cmp"
	"math"
	"slices"

	"bandwright/compiler/parallel"
)

// aTie is the relative difference of values that rounding may make: of such the one with
// fewer settings changed stands.
const aTie = 1e-9

// rounded is an estimate without what rounding makes of it.
func (c candidate) rounded() float64 { return math.Round(c.estimate * 1e10) }

// passing is a measure's maximum, and how many combinations pass its bound.
type passing struct {
	found
	broken int
}

// Shared is a realisation whose Near, and what it returns, works for several goroutines at once,
// each with its own result.
type Shared interface{ NearByMany() }

// worstOfEach is what worst finds of each tally, in their order. Where the realisation can be
// shared they are looked into side by side: the steps of one zoom follow each other, and have
// too little to do for two processors.
func (s *search) worstOfEach() []passing {
	out := make([]passing, len(s.tallies))
	if _, ok := s.real.(Shared); !ok {
		for i, t := range s.tallies {
			out[i].found, out[i].broken = s.worst(t)
		}
		return out
	}
	parallel.Each(len(out), func(i int) { out[i].found, out[i].broken = s.twin().worst(s.tallies[i]) })
	return out
}

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

// closePoints is how many frequencies are looked at around the vertex of the parabola
// through the best of a step and its neighbours, and closer how much narrower than these
// neighbours they lie: around a smooth maximum a parabola is a better step than eight
// parts, at a third of the work.
const closePoints, closer = 5, 16

// zoom finds the maximum of a measure inside a candidate's interval to the
// last digits of the frequency that matter.
func (s *search) zoom(t *tally, c candidate) found {
	peaks := s.truePeaks(t, c.c)
	best := found{c: c.c}
	lo, hi := c.lo, c.hi // hold the maximum
	hz := bothSides(lo, c.mid, hi)
	for range 14 {
		v := s.glance(hz, c.c, &t.measure)
		copy(v.peak, peaks)
		l := t.lookAt(v)
		if l.known {
			if f := t.value(v, l.at); !best.ok || math.Abs(f) >= math.Abs(best.value) {
				best = found{ok: true, value: f, hz: hz[l.at], c: c.c}
			}
		}
		width, last := hz[len(hz)-1]-hz[0], hz[len(hz)-1]
		level := !l.edge && l.most-l.least <= zoomLevel*l.most && width <= zoomNear*last
		inner := l.at > 0 && l.at < len(hz)-1
		if inner || len(hz) > closePoints {
			lo, hi = hz[max(0, l.at-1)], hz[min(len(hz)-1, l.at+1)]
		}
		if level || hi-lo <= 1e-12*hi {
			break
		}
		// What a parabola was wrong about is looked at in full.
		if hz = l.closer(hz); hz == nil {
			hz = bothSides(lo, min(max(lo, v.hz[l.at]), hi), hi)
		}
	}
	return best
}

// looked is what one step of a zoom saw.
type looked struct {
	at          int       // the best, or where it is nearest to the domain
	known       bool      // some of it lies in the domain
	edge        bool      // some of it does not
	most, least float64   // of the sizes in the domain
	sizes       []float64 // at each frequency; where edge is, not all
}

// lookAt finds the greatest of a measure in a view.
func (t *tally) lookAt(v *view) looked {
	l := looked{at: -1, least: math.Inf(1)}
	near := 0
	for i := range v.hz {
		if in := t.inside(v, i); in < 0 {
			if l.edge = true; in > t.inside(v, near) {
				near = i
			}
			continue
		}
		x := math.Abs(t.value(v, i))
		l.sizes = append(l.sizes, x)
		if l.least = min(l.least, x); l.at < 0 || x > l.most {
			l.at, l.most = i, x
		}
	}
	if l.known = l.at >= 0; !l.known {
		l.at = near // nothing inside yet: on towards where it is nearest
	}
	return l
}

// closer are frequencies around the vertex of a parabola through the best and its
// neighbours; nil where the best is the first or the last, or not all is in the domain.
func (l *looked) closer(hz []float64) []float64 {
	i := l.at
	if l.edge || i == 0 || i == len(hz)-1 {
		return nil
	}
	below, above := hz[i]-hz[i-1], hz[i+1]-hz[i]
	down, up := (l.sizes[i]-l.sizes[i-1])/below, (l.sizes[i+1]-l.sizes[i])/above
	bend := (up - down) / (below + above)
	if !(bend < 0) {
		return nil
	}
	// The slope at the best is that of both sides, weighted; the vertex is where it ends.
	vertex := hz[i] - (down*above+up*below)/(below+above)/(2*bend)
	half := min(below, above) / closer
	if !(vertex-half > hz[i-1] && vertex+half < hz[i+1]) {
		return nil
	}
	out := make([]float64, closePoints)
	for k := range out {
		out[k] = vertex + half*(2*float64(k)/(closePoints-1)-1)
	}
	return out
}

// truePeaks is the greatest prototype power in combination c of the way that
// the measure is of, or of the sum of magnitudes, found by zooming into the
// grid's humps. The others stay zero.
func (s *search) truePeaks(t *tally, c Combination) []float64 {
	peaks := make([]float64, len(s.subject.Ways)+1)
	if s.levels {
		return peaks
	}
	key := peakKey(t.way, c)
	peaks[t.way] = s.peaks.get(key, func() float64 { return s.truePeak(t, c, s.humps[key]) })
	return peaks
}

// truePeak is the peak of truePeaks, zoomed into from the humps.
func (s *search) truePeak(t *tally, c Combination, humps []int32) float64 {
	ways := []int{t.way}
	if t.way == len(s.subject.Ways) {
		ways = t.needs
	}
	best, n := 0.0, len(s.hz)
	for _, i := range humps {
		lo, hi := s.hz[max(0, int(i)-1)], s.hz[min(n-1, int(i)+1)]
		best = max(best, s.powers(ways, c, s.hz[i:i+1])[0])
		for range 8 {
			hz := between(lo, hi)
			q := s.powers(ways, c, hz)
			k := 0
			for i := range q {
				if q[i] > q[k] {
					k = i
				}
			}
			best = max(best, q[k])
			lo, hi = hz[max(0, k-1)], hz[min(zoomPoints-1, k+1)]
		}
	}
	return best
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

// bothSides are frequencies on both sides of mid.
func bothSides(lo, mid, hi float64) []float64 {
	return append(between(lo, mid)[:zoomPoints-1], between(mid, hi)...)
}

// between are the frequencies of one side of a step of a zoom.
func between(lo, hi float64) []float64 {
	hz := make([]float64, zoomPoints)
	for i := range hz {
		hz[i] = lo + (hi-lo)*float64(i)/(zoomPoints-1)
	}
	return hz
}

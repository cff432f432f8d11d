package verify

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// perOctave is the density of the search grid. Between its points, and around
// every landmark, the maximum is found by zooming in, so the density decides
// only which hump is taken for the highest.
const perOctave = 48

// around are the relative distances from a narrow landmark at which the search
// looks as well: a filter of Q 50 is 1 % wide and falls between grid points.
var around = []float64{1e-4, 3e-4, 1e-3, 2e-3, 4e-3, 7e-3}

// narrowQ is the Q from which a landmark is narrow: at 10 its half-width is
// three steps of the grid.
const narrowQ = 10

// grid is a logarithmic grid from lo to hi (Hz) joined with the surroundings of
// the landmarks, ascending.
func grid(lo, hi float64, landmarks []Landmark) []float64 {
	n := int(math.Ceil(math.Log2(hi/lo)*perOctave)) + 1
	hz := make([]float64, 0, n+len(landmarks))
	for i := range n {
		hz = append(hz, math.Min(hi, lo*math.Exp2(float64(i)/perOctave)))
	}
	hz = append(hz, hi)
	add := func(f float64) {
		if f > lo && f < hi {
			hz = append(hz, f)
		}
	}
	for _, l := range landmarks {
		add(l.Hz)
		if l.Q >= narrowQ { // NaN, of a root at the origin, is not
			for _, d := range around {
				add(l.Hz * (1 - d))
				add(l.Hz * (1 + d))
			}
		}
	}
	slices.Sort(hz)
	return slices.CompactFunc(hz, func(a, b float64) bool { return math.Abs(b-a) <= 1e-9*a })
}

// found is a measure's maximum.
type found struct {
	ok    bool
	value float64 // signed
	hz    float64
	c     Combination
}

// candidate is a place where a measure may have its maximum: an interval of
// the grid in one combination, and what it promises there.
type candidate struct {
	c        Combination
	lo, hi   float64
	estimate float64 // magnitude
}

// tally collects, for one measure, a candidate a combination.
type tally struct {
	measure
	limit Limit
	each  []candidate
	count int
}

// search evaluates every measure in every combination and returns its true
// maximum, with how many combinations exceed the limit, of how many.
type search struct {
	subject *Subject
	real    Realisation
	hz      []float64
	tallies []*tally
}

func newSearch(s *Subject, r Realisation, hz []float64) *search {
	return &search{subject: s, real: r, hz: hz}
}

func (s *search) add(m measure, limit Limit) *tally {
	t := &tally{measure: m, limit: limit}
	s.tallies = append(s.tallies, t)
	return t
}

// lens evaluates views on one grid.
type lens struct {
	s    *search
	p, r Responder
	v    view
}

func (s *search) lens(hz []float64) *lens {
	n, ways := len(hz), len(s.subject.Ways)
	both := make([]float64, 0, 2*n)
	both = append(both, hz...)
	for _, f := range hz {
		both = append(both, f*(1+stepUp))
	}
	l := &lens{s: s, p: s.subject.Prototype.On(both), r: s.real.On(both)}
	l.v = view{hz: hz, delay: s.real.CommonDelayS(), peak: make([]float64, ways)}
	for range ways {
		l.v.p = append(l.v.p, make([]complex128, 2*n))
		l.v.r = append(l.v.r, make([]complex128, 2*n))
	}
	return l
}

// look evaluates the ways in combination c.
func (l *lens) look(c Combination, ways []int) *view {
	for _, w := range ways {
		l.p.Response(l.v.p[w], w, c)
		l.r.Response(l.v.r[w], w, c)
	}
	return &l.v
}

// run fills the tallies' candidates.
func (s *search) run() {
	l := s.lens(s.hz)
	all := make([]int, len(s.subject.Ways))
	for w := range all {
		all[w] = w
	}
	biquad.Each(s.subject.AllAxes, len(s.subject.Settings), func(c Combination) {
		v := l.look(c, all)
		for w := range v.peak {
			v.peak[w] = gridPeak(v.p[w][:len(v.hz)])
		}
		for _, t := range s.tallies {
			if !touches(t.axes, c) {
				continue
			}
			t.count++
			if cand, ok := t.best(v); ok {
				cand.c = slices.Clone(c)
				t.each = append(t.each, cand)
			}
		}
	})
}

// gridPeak estimates the greatest power between grid points by a parabola
// through the three highest.
func gridPeak(h []complex128) float64 {
	best, at := 0.0, 0
	for i, z := range h {
		if p := power(z); p > best {
			best, at = p, i
		}
	}
	if at > 0 && at < len(h)-1 {
		best += bulge(power(h[at-1]), best, power(h[at+1]))
	}
	return best
}

// bulge is how far the parabola through three neighbours rises above the
// middle, greatest one.
func bulge(a, m, b float64) float64 {
	d := 2*m - a - b
	if !(d > 0) {
		return 0
	}
	return (b - a) * (b - a) / (8 * d)
}

// best is the most promising interval of the grid in one view.
func (t *tally) best(v *view) (candidate, bool) {
	n := len(v.hz)
	val, in := make([]float64, n), make([]bool, n)
	for i := range n {
		if in[i] = t.inside(v, i) >= 0; in[i] {
			val[i] = math.Abs(t.value(v, i))
		}
	}
	best := candidate{estimate: -1}
	for i := range n {
		if !in[i] {
			continue
		}
		est := val[i]
		lo, hi := v.hz[max(0, i-1)], v.hz[min(n-1, i+1)]
		if i > 0 && i < n-1 && in[i-1] && in[i+1] {
			if val[i] >= val[i-1] && val[i] >= val[i+1] {
				est += bulge(val[i-1], val[i], val[i+1])
			}
		} else {
			// At an edge of the domain the error may go on rising until the
			// edge, which lies before the next grid point.
			for _, k := range []int{i - 1, i + 1} {
				if k >= 0 && k < n && !in[k] {
					a, b := t.inside(v, i), t.inside(v, k)
					est = math.Max(est, val[i]+(math.Abs(t.value(v, k))-val[i])*a/(a-b))
				}
			}
		}
		if est > best.estimate {
			best = candidate{lo: lo, hi: hi, estimate: est}
		}
	}
	return best, best.estimate >= 0
}

// worst zooms into the candidates that may hold the maximum, or that decide
// whether a limit is kept, and returns the maximum and how many combinations
// break the limit.
func (s *search) worst(t *tally) (w found, broken int) {
	top := 0.0
	for _, c := range t.each {
		top = math.Max(top, c.estimate)
	}
	// Estimates are good to a per cent; those that are equal but for rounding
	// belong to settings that do not move the worst place: one stands for all.
	type place struct{ lo, hi, rounded float64 }
	seen := map[place]float64{}
	for _, c := range t.each {
		value := c.estimate
		near := t.limit.On && math.Abs(c.estimate-t.limit.Value) <= 0.02*t.limit.Value
		if c.estimate >= 0.98*top || near {
			key := place{c.lo, c.hi, math.Round(c.estimate * 1e10)}
			known, ok := seen[key]
			if !ok {
				f := s.zoom(t, c)
				known = math.Abs(f.value)
				seen[key] = known
				if !w.ok || known > math.Abs(w.value) {
					w = f
				}
			}
			value = known
		}
		if t.limit.On && value > t.limit.Value {
			broken++
		}
	}
	return w, broken
}

// zoomPoints is the number of frequencies in each step of a zoom; every step
// narrows the interval (zoomPoints-1)/2 times.
const zoomPoints = 17

// zoom finds the maximum of a measure inside a candidate's interval to the
// last digits of the frequency that matter.
func (s *search) zoom(t *tally, c candidate) found {
	lo, hi := c.lo, c.hi
	peaks := s.truePeaks(t, c.c)
	var best found
	for range 12 {
		hz := make([]float64, zoomPoints)
		for i := range hz {
			hz[i] = lo + (hi-lo)*float64(i)/(zoomPoints-1)
		}
		l := s.lens(hz)
		v := l.look(c.c, t.needs)
		copy(v.peak, peaks)
		at := -1
		for i := range hz {
			if t.inside(v, i) < 0 {
				continue
			}
			if at < 0 || math.Abs(t.value(v, i)) > math.Abs(t.value(v, at)) {
				at = i
			}
		}
		if at < 0 {
			break
		}
		if f := t.value(v, at); !best.ok || math.Abs(f) >= math.Abs(best.value) {
			best = found{ok: true, value: f, hz: hz[at], c: c.c}
		}
		lo, hi = hz[max(0, at-1)], hz[min(zoomPoints-1, at+1)]
		if hi-lo <= 1e-12*hi {
			break
		}
	}
	if !best.ok {
		best = found{ok: true, value: c.estimate, hz: (c.lo + c.hi) / 2, c: c.c}
	}
	return best
}

// truePeaks is each way's greatest prototype power in combination c, found by
// zooming where the measure depends on it.
func (s *search) truePeaks(t *tally, c Combination) []float64 {
	peaks := make([]float64, len(s.subject.Ways))
	if t.way >= len(peaks) {
		return peaks
	}
	p := s.subject.Prototype.On(s.hz)
	h := make([]complex128, len(s.hz))
	p.Response(h, t.way, c)
	at := 0
	for i := range h {
		if power(h[i]) > power(h[at]) {
			at = i
		}
	}
	lo, hi := s.hz[max(0, at-1)], s.hz[min(len(h)-1, at+1)]
	best := power(h[at])
	for range 10 {
		hz := make([]float64, zoomPoints)
		for i := range hz {
			hz[i] = lo + (hi-lo)*float64(i)/(zoomPoints-1)
		}
		q := make([]complex128, zoomPoints)
		s.subject.Prototype.On(hz).Response(q, t.way, c)
		k := 0
		for i := range q {
			if power(q[i]) > power(q[k]) {
				k = i
			}
		}
		best = math.Max(best, power(q[k]))
		lo, hi = hz[max(0, k-1)], hz[min(zoomPoints-1, k+1)]
	}
	peaks[t.way] = best
	return peaks
}

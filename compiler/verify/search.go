package verify

import (
	"cmp"
	"math"
	"slices"
)

// perOctave is the density of the search grid. Between its points, and around
// every landmark, the maximum is found by zooming in, so the density decides
// only which hump is taken for the highest.
const perOctave = 48

// around are the relative distances from a narrow landmark at which the search
// looks as well: a filter of Q 50 is 1 % wide and falls between grid points.
var around = []float64{1e-4, 3e-4, 1e-3, 2e-3, 4e-3, 7e-3}

// beyond are the same for a zero on the frequency axis: beside it one way passes
// every level, and the part of it in which the phase of both counts may be
// that narrow. It spans 40 dB, a factor of a hundred.
var beyond = []float64{3e-9, 1e-8, 1e-7, 1e-6, 1e-5}

// onAxisQ is the Q from which a zero is on the axis but for rounding.
const onAxisQ = 1e6

// narrowQ is the Q from which a landmark is narrow: at 10 its half-width is
// three steps of the grid.
const narrowQ = 10

// grid is a logarithmic grid from lo to hi (Hz) joined with the surroundings of
// the landmarks, ascending. Where that makes more than crowd points, landmarks
// crowd: those that are not narrow, and the surroundings of those that are, are
// left out where the grid is dense already.
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
		if l.Q >= narrowQ { // NaN, of a root at the origin, is not
			add(l.Hz)
		}
	}
	firm := len(hz)
	for _, l := range landmarks {
		if l.Q >= narrowQ {
			near := around
			if l.Q > onAxisQ {
				near = slices.Concat(beyond, around)
			}
			for _, d := range near {
				add(l.Hz * (1 - d))
				add(l.Hz * (1 + d))
			}
			continue
		}
		add(l.Hz)
	}
	if len(hz) > crowd {
		hz = append(hz[:firm], spread(hz[firm:])...)
	}
	return ascending(hz)
}

// crowd is the number of points from which landmarks crowd: a four-way of a
// dozen sections each has a quarter of that. Spaced is then how near to each
// other, relative, points need not be: a two-hundredth of an octave, a dozen
// points in the half-width of what is not narrow.
const (
	crowd  = 4000
	spaced = 1.0 / 256
)

// spread is a selection of frequencies (Hz) no two of which are close.
func spread(hz []float64) []float64 {
	slices.Sort(hz)
	kept := hz[:0]
	for _, f := range hz {
		if n := len(kept); n == 0 || f > kept[n-1]*(1+spaced) {
			kept = append(kept, f)
		}
	}
	return kept
}

// ascending sorts frequencies and drops those that are equal but for rounding.
func ascending(hz []float64) []float64 {
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
	mid      float64 // the grid point between them
	estimate float64 // magnitude
	at       float64 // magnitude on the grid where it is reached for certain, else 0
}

// tally collects, for one measure, a candidate a combination.
type tally struct {
	measure
	limit Limit
	each  [][]candidate // a combination
	count int
}

// search evaluates every measure in every combination and returns its true
// maximum, with how many combinations exceed the limit, of how many.
type search struct {
	subject *Subject
	real    Realisation
	hz      []float64
	tallies []*tally
	levels  bool               // only the realisation's own levels are sought
	humps   map[string][]int32 // by way and combination: grid points near the peak
	peaks   map[string]float64 // true peaks, likewise
	// What one measure is in one view, used again for the next.
	in, val []float64
	places  []candidate
	close   *view // of a zoom
}

func newSearch(s *Subject, r Realisation, hz []float64) *search {
	return &search{subject: s, real: r, hz: hz, humps: map[string][]int32{}, peaks: map[string]float64{}}
}

func (s *search) add(m measure, limit Limit) *tally {
	t := &tally{measure: m, limit: limit}
	s.tallies = append(s.tallies, t)
	return t
}

// lens evaluates views on the search's grid.
type lens struct {
	p, r Responder
	v    view
}

// lens prepares the grid. Levels need neither the prototype nor companions.
func (s *search) lens() *lens {
	l := &lens{v: s.view(s.hz)}
	hz := s.hz
	if !s.levels {
		hz = withCompanions(hz)
		l.p = s.subject.Prototype.On(hz)
	}
	l.r = s.real.On(hz)
	return l
}

// view is an empty view at hz, large enough for companions where needed.
func (s *search) view(hz []float64) view {
	ways, n := len(s.subject.Ways), len(hz)
	v := view{hz: hz, delay: s.real.CommonDelayS(), peak: make([]float64, ways+1), known: make([]known, ways)}
	for range ways {
		if s.levels {
			v.p = append(v.p, nil)
			v.r = append(v.r, make([]complex128, n))
			continue
		}
		v.p = append(v.p, make([]complex128, 2*n))
		v.r = append(v.r, make([]complex128, 2*n))
	}
	return v
}

func withCompanions(hz []float64) []float64 {
	both := append(make([]float64, 0, 2*len(hz)), hz...)
	for _, f := range hz {
		both = append(both, f*(1+stepUp))
	}
	return both
}

// look evaluates the ways in combination c.
func (l *lens) look(c Combination, ways []int) *view {
	l.v.forget()
	for _, w := range ways {
		if l.p != nil {
			l.p.Response(l.v.p[w], w, c)
		}
		l.r.Response(l.v.r[w], w, c)
	}
	return &l.v
}

// glance evaluates the few frequencies of one step of a zoom in combination c,
// with companions only where the measure looks at them. The view holds until
// the next glance.
func (s *search) glance(hz []float64, c Combination, m *measure) *view {
	if s.close == nil {
		v := s.view(hz)
		s.close = &v
	}
	v := s.close
	v.hz = hz
	v.forget()
	all := hz
	if m.companions {
		all = withCompanions(hz)
	}
	for _, w := range m.needs {
		if !s.levels {
			s.subject.Prototype.At(v.p[w], w, c, all)
		}
		s.real.At(v.r[w], w, c, all)
	}
	return v
}

// run fills the tallies' candidates.
func (s *search) run() {
	l := s.lens()
	all := make([]int, len(s.subject.Ways))
	for w := range all {
		all[w] = w
	}
	s.subject.each(func(c Combination) {
		v := l.look(c, all)
		if !s.levels {
			n := len(v.hz)
			for w := range all {
				v.peak[w] = s.gridPeak(w, c, n, func(i int) float64 { return power(v.p[w][i]) })
			}
			v.peak[len(all)] = s.gridPeak(len(all), c, n, func(i int) float64 { m := magnitudes(v.p, i); return m * m })
		}
		for _, t := range s.tallies {
			if !touches(t.axes, c) {
				continue
			}
			t.count++
			cs := s.candidates(t, v)
			mine := slices.Clone(c)
			for i := range cs {
				cs[i].c = mine
			}
			t.each = append(t.each, cs)
		}
	})
}

// gridPeak is the greatest of n powers on the grid, and notes where the grid's
// humps near it are: there the true peak is sought if it is needed. Until then
// the mask must not be too narrow, so nothing is added between grid points.
func (s *search) gridPeak(way int, c Combination, n int, power func(i int) float64) float64 {
	best := 0.0
	for i := range n {
		best = math.Max(best, power(i))
	}
	var humps []int32
	for i := range n {
		p := power(i)
		if p*(1+slack) < best || i > 0 && p < power(i-1) || i < n-1 && p < power(i+1) {
			continue
		}
		humps = append(humps, int32(i))
	}
	slices.SortStableFunc(humps, func(a, b int32) int { return cmp.Compare(power(int(b)), power(int(a))) })
	humps = slices.Clone(humps[:min(len(humps), mostHumps)])
	s.humps[peakKey(way, c)] = humps
	return best
}

// mostHumps bounds the humps of one response that are looked into, the highest
// first: equal ripples of order 12 have six, a sum of delayed ways has many.
const mostHumps = 24

func peakKey(way int, c Combination) string { return string(append([]byte{byte(way)}, c...)) }

// bulge is how far the parabola through three neighbours rises above the
// middle, greatest one.
func bulge(a, m, b float64) float64 {
	d := 2*m - a - b
	if !(d > 0) {
		return 0
	}
	return (b - a) * (b - a) / (8 * d)
}

// bend is the magnitude of a measure's second difference at three neighbours
// of the grid; 0 where it ends.
func bend(t *tally, v *view, before, at, after int) float64 {
	if n := len(v.hz); before < 0 || before >= n || after < 0 || after >= n {
		return 0
	}
	return math.Abs(t.value(v, before) - 2*t.value(v, at) + t.value(v, after))
}

// mostPlaces is how many intervals of the grid a combination may offer.
const mostPlaces = 32

// candidates are the most promising intervals of the grid in one view, the best
// first: local maxima and the edges of the domain.
func (s *search) candidates(t *tally, v *view) []candidate {
	n := len(v.hz)
	if len(s.in) < n {
		s.in, s.val = make([]float64, n), make([]float64, n)
	}
	in, val, out := s.in[:n], s.val[:n], s.places[:0]
	for i := range n {
		val[i] = 0
		if in[i] = t.inside(v, i); in[i] >= 0 {
			val[i] = math.Abs(t.value(v, i))
		}
	}
	for i := range n {
		if in[i] < 0 {
			if island(in, i) {
				out = append(out, candidate{lo: v.hz[i-1], mid: v.hz[i], hi: v.hz[i+1], estimate: math.Abs(t.value(v, i)) * (1 + slack)})
			}
			continue
		}
		est := val[i]
		if i > 0 && i < n-1 && in[i-1] >= 0 && in[i+1] >= 0 {
			if val[i] < val[i-1] || val[i] < val[i+1] {
				continue
			}
			est += bulge(val[i-1], val[i], val[i+1])
		} else {
			// At an edge of the domain the error may go on rising until the
			// edge, which lies before the next grid point k. The straight line
			// towards it is too low by up to an eighth of the second
			// difference where the error bends; twice that is added.
			for _, k := range []int{i - 1, i + 1} {
				if k >= 0 && k < n && in[k] < 0 {
					a, b := in[i], in[k]
					line := val[i] + (math.Abs(t.value(v, k))-val[i])*a/(a-b)
					est = math.Max(est, line+bend(t, v, 2*i-k, i, k)/4)
				}
			}
		}
		c := candidate{lo: v.hz[max(0, i-1)], mid: v.hz[i], hi: v.hz[min(n-1, i+1)], estimate: est}
		if in[i] >= peakDoubt {
			c.at = val[i]
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b candidate) int { return cmp.Compare(b.estimate, a.estimate) })
	s.places = out
	return slices.Clone(out[:min(len(out), mostPlaces)])
}

// peakDoubt is how far inside of its domain (dB) a point of the grid has to be
// for that to be certain: the domain is counted from a peak that the grid may
// have missed by as much.
const peakDoubt = 0.5

// nearlyInside is how far outside of its domain (dB) a measure may be, at the
// grid point nearest to a hump of the level, for the hump to be looked into: a
// stop band that just touches the mask is inside between two points only.
const nearlyInside = 1.0

// island reports whether point i, outside, is a hump of the domain that the
// grid has missed.
func island(in []float64, i int) bool {
	return in[i] >= -nearlyInside && i > 0 && i < len(in)-1 && in[i] >= in[i-1] && in[i] >= in[i+1]
}

// slack is how far, relative, a true maximum may lie above its estimate from
// the grid.
const slack = 0.05

// worst zooms into the places that may hold the maximum, or that decide whether
// a combination keeps the limit, and returns the maximum and how many
// combinations break the limit.
func (s *search) worst(t *tally) (w found, broken int) {
	// Places that are equal but for rounding belong to settings that do not
	// move them: one stands for all.
	type place struct{ lo, hi, rounded float64 }
	seen := map[place]float64{}
	zoomed := func(c candidate) float64 {
		key := place{c.lo, c.hi, math.Round(c.estimate * 1e10)}
		v, ok := seen[key]
		if !ok {
			f := s.zoom(t, c)
			v = math.Abs(f.value)
			seen[key] = v
			if f.ok && (!w.ok || v > math.Abs(w.value)) {
				w = f
			}
		}
		return v
	}
	// The greatest of all: from the best estimate down, until no estimate can
	// beat what was found.
	var all []candidate
	for _, cs := range t.each {
		all = append(all, cs...)
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.estimate, a.estimate) })
	for _, c := range all {
		if w.ok && c.estimate*(1+slack) < math.Abs(w.value) {
			break
		}
		zoomed(c)
	}
	if !t.limit.On {
		return w, 0
	}
	for _, cs := range t.each {
		for _, c := range cs {
			value := c.at
			if value <= t.limit.Value && c.estimate*(1+slack) > t.limit.Value {
				value = zoomed(c)
			}
			if value > t.limit.Value {
				broken++
				break
			}
		}
	}
	return w, broken
}

// zoomPoints is the number of frequencies on either side of the best in each
// step of a zoom, both ends counted; every step narrows the interval eight times.
const zoomPoints = 9

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
		for i := range hz {
			if t.inside(v, i) < 0 {
				if t.inside(v, i) > t.inside(v, near) {
					near = i
				}
				continue
			}
			if at < 0 || math.Abs(t.value(v, i)) > math.Abs(t.value(v, at)) {
				at = i
			}
		}
		if at < 0 {
			at = near // nothing inside yet: on towards where it is nearest
		} else if f := t.value(v, at); !best.ok || math.Abs(f) >= math.Abs(best.value) {
			best = found{ok: true, value: f, hz: hz[at], c: c.c}
		}
		lo, mid, hi = hz[max(0, at-1)], hz[at], hz[min(len(hz)-1, at+1)]
		if hi-lo <= 1e-12*hi {
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
	for _, w := range ways {
		s.subject.Prototype.At(h, w, c, hz)
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

package verify

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"bandwright/biquad"
)

// found is a measure's maximum.
type found struct {
	ok    bool
	value float64 // signed
	hz    float64
	c     Combination
}

// bound is what a measure's size must not pass; nothing where it is not on.
type bound struct {
	on bool
	at float64
}

// tally collects, for one measure, a candidate a combination.
type tally struct {
	measure
	bound bound
	each  [][]candidate // a combination
	count int
}

// search evaluates every measure in every combination and returns its true
// maximum, with how many combinations pass the bound, of how many.
type search struct {
	subject *Subject
	real    Realisation
	hz      []float64
	tallies []*tally
	levels  bool               // only the realisation's own levels are sought
	humps   map[string][]int32 // by way and combination: grid points near the peak
	peaks   *peaks             // true peaks, likewise
	// What one measure is in one view, used again for the next.
	in, val []float64
	places  []candidate
	close   *view // of a zoom
}

func newSearch(s *Subject, r Realisation, hz []float64) *search {
	return &search{subject: s, real: r, hz: hz, humps: map[string][]int32{}, peaks: &peaks{of: map[string]func() float64{}}}
}

// twin is a search of the same, after it has run, that zooms beside others.
func (s *search) twin() *search {
	t := *s
	t.close = nil
	return &t
}

// peaks are true peaks by way and combination, each found once, by whoever asks first.
type peaks struct {
	mutex sync.Mutex
	of    map[string]func() float64
}

// get is the peak of a key, sought by f where nobody has asked for it yet.
func (p *peaks) get(key string, f func() float64) float64 {
	p.mutex.Lock()
	once, ok := p.of[key]
	if !ok {
		once = sync.OnceValue(f)
		p.of[key] = once
	}
	p.mutex.Unlock()
	return once()
}

func (s *search) add(m measure, b bound) *tally {
	t := &tally{measure: m, bound: b}
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
	ideal, real := s.subject.Prototype.Near(all), s.real.Near(all)
	for _, w := range m.needs {
		if !s.levels {
			ideal.Response(v.p[w], w, c)
		}
		real.Response(v.r[w], w, c)
	}
	return v
}

// run fills the tallies' candidates, of the combinations until ctx is cancelled.
func (s *search) run(ctx context.Context) {
	l := s.lens()
	all := make([]int, len(s.subject.Ways))
	for w := range all {
		all[w] = w
	}
	s.subject.each(s.subject.AllAxes, func(c Combination) {
		if ctx.Err() != nil {
			return
		}
		v := l.look(c, all)
		if !s.levels {
			n := len(v.hz)
			for w := range all {
				v.peak[w] = s.gridPeak(w, c, n, func(i int) float64 { return biquad.Power(v.p[w][i]) })
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
		best = max(best, power(i))
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

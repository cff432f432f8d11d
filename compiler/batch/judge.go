package batch

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

const (
	// PerOctave is the density of the frequencies at which boards are looked at,
	// beside the ends of the band and the stages' own frequencies.
	PerOctave = 8
	// downToDB is how far below its peak a way is looked at, and how far below the sum
	// of the ways' magnitudes their sum is: what lies lower is hardly heard.
	downToDB = -20.0
	// sharesDB is how far below the sum of the ways' magnitudes a way still counts in
	// the sum as simulated; below, its nominal response does, at most 0.005 dB off for
	// 1 dB.
	sharesDB = -46.0
)

// judge measures boards against the prototype.
type judge struct {
	*Simulator
	subject *verify.Subject
	ideal   [][]target // [way][variant]
	sums    []sum
	terms   []term  // of the sums, each after those that it is made of
	wholes  []whole // what sums are, times what the turn does
}

// target is a wanted response where it is looked at: the indices of the frequencies,
// ascending, and 1/|H|² at each.
type target struct {
	at      []int32
	inverse []float64
}

// sum is the sum of the ways in one combination.
type sum struct {
	c        verify.Combination
	variants []int // of each way
	turn     int
	target
}

// term is a way in one of its cores, or the sum of two terms: what sums have in common
// is added up once.
type term struct {
	way, core int // way -1 for a sum
	a, b      int
}

// whole is the sum of two terms, all ways, that some sums are in one turn or another.
type whole struct {
	a, b int
	sums []int
}

// grid lists the frequencies (Hz) at which boards are looked at.
func grid(subject *verify.Subject, b *board.Board, lowHz, highHz float64) []float64 {
	const apart = 0.005 // relative: no need to look at frequencies that nearly coincide
	own := append(biquad.OctavesBelow(lowHz, highHz, PerOctave), edges(subject, lowHz, highHz)...)
	for _, c := range b.Chains() {
		for _, s := range c.Stages() {
			if w, _ := s.Section.Natural(); w > 2*math.Pi*lowHz && w < 2*math.Pi*highHz {
				own = append(own, w/(2*math.Pi))
			}
		}
	}
	hz := biquad.Ascending(own, apart)
	if hz[len(hz)-1] > highHz*(1-apart) {
		hz = hz[:len(hz)-1]
	}
	return append(hz, highHz)
}

// edges are the frequencies (Hz) between which ways are looked at: the last ones that
// are within downToDB of the way's peak. A way that falls steeply deviates most there.
func edges(subject *verify.Subject, lowHz, highHz float64) []float64 {
	const dense, halvings = 24, 12
	hz := biquad.Octaves(lowHz, highHz, dense)
	responder := subject.Prototype.On(hz)
	h, one := make([]complex128, len(hz)), make([]complex128, 1)
	var out []float64
	for _, c := range subject.Cases() {
		if c.C == nil {
			continue
		}
		responder.Response(h, c.Way, c.C)
		peak := 0.0
		for _, v := range h {
			peak = math.Max(peak, biquad.Power(v))
		}
		least := peak * biquad.FromDB(2*downToDB)
		inside := func(v complex128) bool { return biquad.Power(v) >= least }
		for i := 1; i < len(hz); i++ {
			in, outside := hz[i-1], hz[i]
			switch {
			case inside(h[i-1]) == inside(h[i]):
				continue
			case inside(h[i]):
				in, outside = outside, in
			}
			for range halvings {
				middle := math.Sqrt(in * outside)
				subject.Prototype.Near([]float64{middle}).Response(one, c.Way, c.C)
				if inside(one[0]) {
					in = middle
				} else {
					outside = middle
				}
			}
			out = append(out, in)
		}
	}
	return out
}

// newJudge prepares the judgement of a board's batch from lowHz to highHz.
func newJudge(subject *verify.Subject, b *board.Board, lowHz, highHz float64) (*judge, error) {
	hz := grid(subject, b, lowHz, highHz)
	s, err := NewSimulator(subject, b, hz)
	if err != nil {
		return nil, err
	}
	j := &judge{Simulator: s, subject: subject}
	responder := subject.Prototype.On(hz)
	want := make([][][]complex128, len(s.ways))
	for k := range s.ways {
		for _, v := range s.ways[k].variants {
			h := make([]complex128, len(hz))
			responder.Response(h, k, v.c)
			want[k] = append(want[k], h)
		}
	}
	used := make([]span, len(s.ways))
	for k := range s.ways {
		used[k] = span{len(hz), 0}
		var all []target
		for _, h := range want[k] {
			t := wanted(h, func(i int) float64 { return biquad.DB(h[i]) })
			all = append(all, t)
			for _, i := range t.at {
				used[k].cover(int(i))
			}
		}
		j.ideal = append(j.ideal, all)
	}
	if len(s.ways) > 1 {
		j.addSums(want, used)
	}
	for k := range s.ways {
		s.ways[k].span = used[k]
	}
	s.settle()
	for i := range j.sums {
		j.split(i)
	}
	return j, nil
}

// cover widens a span to hold a frequency.
func (s *span) cover(i int) { s.from, s.to = min(s.from, i), max(s.to, i+1) }

// wanted is a target where levels (dB, by frequency) are within downToDB of the
// greatest one.
func wanted(h []complex128, level func(int) float64) target {
	peak := math.Inf(-1)
	for i := range h {
		peak = math.Max(peak, level(i))
	}
	var t target
	for i := range h {
		if p := biquad.Power(h[i]); p > 0 && level(i) >= peak+downToDB {
			t.at, t.inverse = append(t.at, int32(i)), append(t.inverse, 1/p)
		}
	}
	return t
}

// addSums adds the sum of the ways in every combination, and widens what is looked
// at of each way to what counts in a sum.
func (j *judge) addSums(want [][][]complex128, used []span) {
	n := len(j.Hz)
	apart, shares := biquad.FromDB(downToDB), biquad.FromDB(sharesDB)
	j.each(func(c verify.Combination) {
		x := sum{c: slices.Clone(c)}
		whole, magnitudes := make([]complex128, n), make([]float64, n)
		for k := range j.ways {
			v := j.Variant(k, c)
			x.variants = append(x.variants, v)
			for i, h := range want[k][v] {
				whole[i] += h
				magnitudes[i] += math.Sqrt(biquad.Power(h))
			}
		}
		for i, h := range whole { // where the ways cancel there is nothing to compare
			if math.Sqrt(biquad.Power(h)) < magnitudes[i]*apart {
				whole[i] = 0
			}
		}
		x.target = wanted(whole, func(i int) float64 { return biquad.GainDB(magnitudes[i]) })
		for _, i := range x.at {
			for k, v := range x.variants {
				if math.Sqrt(biquad.Power(want[k][v][i])) > magnitudes[i]*shares {
					used[k].cover(int(i))
				}
			}
		}
		j.sums = append(j.sums, x)
	})
}

// each calls f with every combination in which the ways are summed.
func (j *judge) each(f func(verify.Combination)) {
	if j.subject.Only == nil {
		biquad.Each(j.subject.AllAxes, len(j.subject.Settings), f)
		return
	}
	for _, c := range j.subject.Only {
		f(c)
	}
}

// split finds the turn of a sum and the terms that it is made of.
func (j *judge) split(n int) {
	x := &j.sums[n]
	cores := make([]int, len(x.variants))
	for k, i := range x.variants {
		v := &j.ways[k].variants[i]
		cores[k], x.turn = v.core, v.turn
	}
	half := len(cores) / 2
	a, b := j.termOf(0, cores[:half]), j.termOf(half, cores[half:])
	k := slices.IndexFunc(j.wholes, func(w whole) bool { return w.a == a && w.b == b })
	if k < 0 {
		k = len(j.wholes)
		j.wholes = append(j.wholes, whole{a: a, b: b})
	}
	j.wholes[k].sums = append(j.wholes[k].sums, n)
}

// termOf is the index of the sum of some ways, from one on, in their cores.
func (j *judge) termOf(way int, cores []int) int {
	t := term{way: way, core: cores[0], a: -1, b: -1}
	if half := len(cores) / 2; half > 0 {
		t = term{way: -1, core: -1, a: j.termOf(way, cores[:half]), b: j.termOf(way+half, cores[half:])}
	}
	k := slices.Index(j.terms, t)
	if k < 0 {
		k = len(j.terms)
		j.terms = append(j.terms, t)
	}
	return k
}

// rows is how many things are judged: the ways and, of several, their sum.
func (j *judge) rows() int {
	if len(j.ways) > 1 {
		return len(j.ways) + 1
	}
	return len(j.ways)
}

// combination is the one of a row's variant, or of a sum.
func (j *judge) combination(row, in int) verify.Combination {
	if row < len(j.ways) {
		return j.ways[row].variants[in].c
	}
	return j.sums[in].c
}

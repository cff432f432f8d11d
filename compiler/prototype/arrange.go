package prototype

import (
	"math"
	"math/big"
	"sort"

	"bandwright/biquad"
)

// factor is a real zero or pole, or a pair, as a polynomial of s that begins
// with its highest power: s + r·w with r = ±1, or s² + r·w·s + w² with
// r = 1/Q, negative in the right half plane and 0 on the axis. A zero at the
// origin has order 1 and w = 0.
type factor struct {
	order int
	w, r  float64
}

// degree is the number of roots.
func degree(fs []factor) int {
	n := 0
	for _, f := range fs {
		n += f.order
	}
	return n
}

// slot takes one real zero of a section; at is the section's pole there.
type slot struct {
	section int
	at      float64
}

// arrange forms sections from Π(zeros)/Π(poles), where the zeros are not more
// than the poles and no pole lies at the origin. Real poles are joined two and
// two in ascending frequency. A zero pair goes to the nearest pole pair,
// nearest matches first; single zeros go where the sum of their distances in
// octaves is least. Every section is scaled to unity in its passband, as
// passband has it; rest is the gain (> 0) that the product then lacks. Sections
// come in ascending Q, one of first order first.
func arrange(zeros, poles []factor) (sections []biquad.Analog, rest float64) {
	sections, at := poleSections(poles)
	num := make([][]factor, len(sections))
	free := make([]bool, len(sections))
	for i := range free {
		free[i] = true
	}
	var pairs, singles []factor
	for _, z := range zeros {
		if z.order == 2 {
			pairs = append(pairs, z)
		} else {
			singles = append(singles, z)
		}
	}
	for _, m := range nearest(pairs, sections) {
		num[m.section] = []factor{pairs[m.zero]}
		free[m.section] = false
	}
	var slots []slot
	for i, fs := range at {
		for _, w := range fs {
			if free[i] {
				slots = append(slots, slot{i, w})
			}
		}
	}
	sort.SliceStable(slots, func(i, j int) bool { return slots[i].at < slots[j].at })
	sort.SliceStable(singles, func(i, j int) bool { return singles[i].w < singles[j].w })
	for i, s := range cheapest(singles, slots) {
		num[slots[s].section] = append(num[slots[s].section], singles[i])
	}

	// The product of the scales can leave the range of float64 on the way.
	product := new(big.Float).SetPrec(128).SetInt64(1)
	for i := range sections {
		s := &sections[i]
		s.B = numerator(num[i], s.W0)
		for k := degree(num[i]); k < s.Order(); k++ {
			product.Quo(product, big.NewFloat(s.W0))
		}
		level := passband(*s)
		for k := range s.B {
			s.B[k] /= level
		}
		product.Mul(product, big.NewFloat(level))
	}
	rest, _ = product.Float64()
	return sections, rest
}

// poleSections is the denominators with B still empty, and the frequencies of
// the poles of each.
func poleSections(poles []factor) (sections []biquad.Analog, at [][]float64) {
	type den struct {
		biquad.Analog
		at []float64
	}
	var ds []den
	var reals []float64
	for _, p := range poles {
		if p.order == 2 {
			ds = append(ds, den{pair(p.w, p.r), []float64{p.w, p.w}})
		} else {
			reals = append(reals, p.w)
		}
	}
	sort.Float64s(reals)
	for len(reals) > 1 {
		a, b := reals[0], reals[1]
		w := math.Sqrt(a) * math.Sqrt(b)
		if a == b {
			w = a
		}
		ds = append(ds, den{pair(w, a/w+b/w), []float64{a, b}})
		reals = reals[2:]
	}
	if len(reals) == 1 {
		ds = append(ds, den{single(reals[0]), reals})
	}
	sort.SliceStable(ds, func(i, j int) bool { return lessQ(ds[i].Analog, ds[j].Analog) })
	for _, d := range ds {
		d.B = [3]float64{}
		sections = append(sections, d.Analog)
		at = append(at, d.at)
	}
	return sections, at
}

// lessQ orders sections: first order, then ascending Q, then ascending
// frequency.
func lessQ(a, b biquad.Analog) bool {
	if x, y := a.Order(), b.Order(); x != y {
		return x < y
	}
	if a.A[1] != b.A[1] {
		return a.A[1] > b.A[1]
	}
	return a.W0 < b.W0
}

type match struct{ zero, section int }

// nearest matches zero pairs with second-order sections by distance on the
// logarithmic s plane, nearest first, of equals the section of higher Q.
func nearest(zeros []factor, sections []biquad.Analog) []match {
	type candidate struct {
		match
		distance float64
	}
	var cs []candidate
	for i, z := range zeros {
		for j, s := range sections {
			if s.Order() == 2 {
				d := math.Hypot(math.Log(z.w/s.W0), angle(z.r)-angle(s.A[1]))
				cs = append(cs, candidate{match{i, j}, d})
			}
		}
	}
	sort.SliceStable(cs, func(i, j int) bool {
		if cs[i].distance != cs[j].distance {
			return cs[i].distance < cs[j].distance
		}
		return cs[i].section > cs[j].section
	})
	zeroDone, sectionDone := make([]bool, len(zeros)), make([]bool, len(sections))
	var out []match
	for _, c := range cs {
		if !zeroDone[c.zero] && !sectionDone[c.section] {
			zeroDone[c.zero], sectionDone[c.section] = true, true
			out = append(out, c.match)
		}
	}
	return out
}

// angle is where a pair of damping r = 1/Q lies: radians from the positive
// imaginary axis, positive to the left.
func angle(r float64) float64 { return math.Asin(math.Max(-1, math.Min(1, r/2))) }

// lgOrigin stands for the logarithm of a zero at the origin: below all others.
const lgOrigin = -1000

// cheapest assigns zeros to slots, both in ascending order, so that the sum of
// the distances in octaves is least. An assignment without crossings is among
// the best, so that this is a shortest path over two sorted lists.
func cheapest(zeros []factor, slots []slot) []int {
	n, m := len(zeros), len(slots)
	cost := make([][]float64, n+1) // cost[i][j]: zeros from i on, slots from j on
	take := make([][]bool, n+1)
	for i := n; i >= 0; i-- {
		cost[i], take[i] = make([]float64, m+1), make([]bool, m+1)
		for j := m; j >= 0 && i < n; j-- {
			cost[i][j] = math.Inf(1)
			if j == m {
				continue
			}
			lg := float64(lgOrigin)
			if zeros[i].w > 0 {
				lg = math.Log2(zeros[i].w)
			}
			with := cost[i+1][j+1] + math.Abs(lg-math.Log2(slots[j].at))
			cost[i][j], take[i][j] = with, true
			if cost[i][j+1] < with {
				cost[i][j], take[i][j] = cost[i][j+1], false
			}
		}
	}
	var out []int
	for i, j := 0, 0; i < n; j++ {
		if take[i][j] {
			out = append(out, j)
			i++
		}
	}
	return out
}

// numerator multiplies out the zeros of one section in p = s/w.
func numerator(zeros []factor, w float64) [3]float64 {
	b, n := [3]float64{1}, 0
	for _, z := range zeros {
		t := z.w / w
		if z.order == 2 {
			return [3]float64{t * t, z.r * t, 1}
		}
		t *= z.r
		for k := n + 1; k > 0; k-- {
			b[k] = float64(b[k]*t) + b[k-1]
		}
		b[0] = float64(b[0]*t) + 0 // no -0 from a zero at the origin
		n++
	}
	return b
}

// passband is the gain that a section is scaled by: the greater of its gains
// at 0 Hz and at infinity; where a second-order section has a single zero, its
// gain as the band-pass that it is apart from that zero counts too.
func passband(s biquad.Analog) float64 {
	n := s.Order()
	level := math.Max(math.Abs(s.B[0]/s.A[0]), math.Abs(s.B[n]/s.A[n]))
	if n == 2 && s.B[2] == 0 {
		level = math.Max(level, math.Abs(s.B[1]/s.A[1]))
	}
	return level
}

// expanded multiplies sections out to one fraction of p = s/w, lowest power
// first, and beside the numerator the sum of the magnitudes that make up each
// of its coefficients.
func expanded(sections []biquad.Analog, w float64) (num, size, den []float64) {
	num, size, den = []float64{1}, []float64{1}, []float64{1}
	for _, s := range sections {
		t, n := w/s.W0, s.Order()
		var b, m, a [3]float64
		for k, f := 0, 1.0; k <= n; k, f = k+1, f*t {
			b[k], a[k] = s.B[k]*f, s.A[k]*f
			m[k] = math.Abs(b[k])
		}
		num, size, den = biquad.Times(num, b[:n+1]), biquad.Times(size, m[:n+1]), biquad.Times(den, a[:n+1])
	}
	return num, size, den
}

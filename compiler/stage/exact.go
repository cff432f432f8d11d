package stage

import (
	"math"
	"slices"

	"bandwright/compiler/circuit"
)

// Low-passes and high-passes of the second order can be searched exactly. With
// u = w² for a low-pass and 1/w² for a high-pass
//
//	1/|H|² = a + p·u + q·u²
//
// is linear in (a, p, q), which are a = 1/K², p = a(T1²-2T2), q = a·T2² for
// H = K/(1+sT1+s²T2), and the same with the mirrored T1/T2 and 1/T2 for a
// high-pass. An error limit bounds 1/|H|² at every frequency, so any three
// frequencies (two where K = 1) bound (a, p, q) by a box that no set of values
// within the limit can lie outside of. All but one part are looped over, inside
// what the box leaves of them, and the last is found by bisection.

// box are the bounds of T1 and T2 (or T1/T2 and 1/T2) and of 1/K.
type box struct{ t1, t2, inverse [2]float64 }

// boxPoints is how many frequencies the box is made of, boxTriples with an
// unknown level: more make it smaller, and take longer.
const (
	boxPoints  = 40
	boxTriples = 16
)

// boxOf is the box of an error limit (dB), unity where K is 1.
func (a *wanted) boxOf(limit float64, highPass, unity bool) (box, bool) {
	high, low := bounds(limit)
	n := boxTriples
	if unity {
		n = boxPoints
	}
	n = min(n, len(a.x))
	u, lo, hi := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		u[i] = a.x[i]
		if highPass {
			u[i] = 1 / u[i]
		}
		lo[i], hi[i] = a.scale[i]/high, a.scale[i]/low
	}
	inf := math.Inf(1)
	ba, bp, bq := [2]float64{0, inf}, [2]float64{-inf, inf}, [2]float64{0, inf}
	cut := func(b *[2]float64, weights [3]float64, at [3]int, add float64) {
		l, h := add, add
		for k, w := range weights {
			switch {
			case w > 0:
				l, h = l+w*lo[at[k]], h+w*hi[at[k]]
			case w < 0:
				l, h = l+w*hi[at[k]], h+w*lo[at[k]]
			}
		}
		// What rounding may take away is given back.
		slack := 1e-12 * (math.Abs(l) + math.Abs(h))
		b[0], b[1] = math.Max(b[0], l-slack), math.Min(b[1], h+slack)
	}
	for i := range n {
		for j := range i {
			if unity {
				ba = [2]float64{1, 1}
				x, y := u[i], u[j]
				d := x - y
				// p = (x·(Y-1)/y - y·(X-1)/x)/(x-y), q = ((X-1)/x - (Y-1)/y)/(x-y).
				cut(&bp, [3]float64{-y / (x * d), x / (y * d)}, [3]int{i, j}, y/(x*d)-x/(y*d))
				cut(&bq, [3]float64{1 / (x * d), -1 / (y * d)}, [3]int{i, j}, 1/(y*d)-1/(x*d))
				continue
			}
			for k := range j {
				x, y, z := u[i], u[j], u[k]
				dx, dy, dz := (x-y)*(x-z), (y-x)*(y-z), (z-x)*(z-y)
				at := [3]int{i, j, k}
				cut(&ba, [3]float64{y * z / dx, x * z / dy, x * y / dz}, at, 0)
				cut(&bp, [3]float64{-(y + z) / dx, -(x + z) / dy, -(x + y) / dz}, at, 0)
				cut(&bq, [3]float64{1 / dx, 1 / dy, 1 / dz}, at, 0)
			}
		}
	}
	if !(ba[0] > 0) {
		ba[0] = math.SmallestNonzeroFloat64
	}
	if ba[1] < ba[0] || bp[1] < bp[0] || bq[1] < bq[0] || bq[1] <= 0 {
		return box{}, false
	}
	b := box{t2: [2]float64{math.Sqrt(bq[0] / ba[1]), math.Sqrt(bq[1] / ba[0])},
		inverse: [2]float64{math.Sqrt(ba[0]), math.Sqrt(ba[1])}}
	pLow, pHigh := bp[0]/ba[1], bp[1]/ba[0]
	if bp[0] < 0 {
		pLow = bp[0] / ba[0]
	}
	if bp[1] < 0 {
		pHigh = bp[1] / ba[1]
	}
	b.t1 = [2]float64{math.Sqrt(math.Max(pLow+2*b.t2[0], 0)), math.Sqrt(math.Max(pHigh+2*b.t2[1], 0))}
	return b, true
}

// exact is a search that finds the best sets of values of one topology.
type exact struct {
	topology        string
	highPass, unity bool
	// each calls try with every set of values in stock that the box leaves, and
	// takes the box anew from try's result.
	each func(s *Stock, b box, try func(v ...float64) box)
}

// exacts is the table of exact searches.
var exacts = []exact{
	{"sallen-key-low-pass", false, true, eachSallenKeyLowPass},
	{"sallen-key-high-pass", true, true, eachSallenKeyHighPass},
	{"multiple-feedback-low-pass", false, false, eachMultipleFeedbackLowPass},
	{"multiple-feedback-high-pass", true, false, eachMultipleFeedbackHighPass},
}

const (
	// firstLimit (dB) is the error at which the search begins; it is doubled until
	// enough is found, up to lastLimit.
	firstLimit = 0.01
	lastLimit  = 6
)

// mostTries is how many sets of values an exact search looks at: five times what
// any section takes whose frequency lies in the band. Far outside of it nearly
// all values are as good, and a box excludes little.
const mostTries = 200000

// nothing is a box that no values lie in.
var nothing = box{t1: [2]float64{1, 0}, t2: [2]float64{1, 0}, inverse: [2]float64{1, 0}}

// exactly fills a pool with the best there is of a topology in the table. It gives
// up, and reports false, after mostTries.
func exactly(t *circuit.Topology, s *Stock, a *wanted, p *pool) bool {
	i := slices.IndexFunc(exacts, func(x exact) bool { return x.topology == t.Name })
	if i < 0 {
		return false
	}
	x, tries := exacts[i], 0
	for limit := firstLimit; limit <= 2*lastLimit; limit *= 2 {
		at := limit // of the present box
		b, some := a.boxOf(at, x.highPass, x.unity)
		if !some {
			continue
		}
		x.each(s, b, func(v ...float64) box {
			if tries++; tries > mostTries {
				return nothing
			}
			now := math.Min(limit, p.limit())
			if db := a.error(t.Closed(v), now); db <= now {
				p.add(db, v)
				now = math.Min(limit, p.limit())
			}
			// A smaller box is worth the time only where the limit fell by some.
			if now < 0.9*at {
				at = now
				if smaller, some := a.boxOf(at, x.highPass, x.unity); some {
					b = smaller
				}
			}
			return b
		})
		if tries > mostTries {
			return false
		}
		if p.limit() <= limit {
			break
		}
	}
	return true
}

// summands are the values v of an ascending list for which v + w may lie from s0 to
// s1 while v·w lies from p0 to p1: v + p0/v ≤ s1, and v + p1/v ≥ s0. The first is
// true between the roots of a parabola, the second outside of those of another.
func summands(list []float64, s0, s1, p0, p1 float64) []float64 {
	// edge is given away, so that rounding excludes nothing near a double root.
	d := s1*s1/4 - p0*(1-edge)
	if d < 0 {
		return nil
	}
	root := math.Sqrt(d)
	from, to := within(list, p0/(s1/2+root)*(1-edge), (s1/2+root)*(1+edge))
	list = list[from:to]
	if d = s0*s0/4 - p1*(1+edge); !(d > 0) || math.IsInf(d, 1) {
		return list
	}
	root = math.Sqrt(d)
	_, inner := within(list, 0, p1/(s0/2+root)*(1+edge))
	outer, _ := within(list, (s0/2+root)*(1-edge), math.MaxFloat64)
	if outer <= inner {
		return list
	}
	return append(list[:inner:inner], list[outer:]...)
}

// R1, R2, C1, C2: T1 = C2(R1+R2), T2 = R1R2C1C2.
func eachSallenKeyLowPass(s *Stock, b box, try func(...float64) box) {
	for _, c1 := range s.Farad {
		for _, c2 := range s.Farad {
			for _, r1 := range summands(s.Ohm, b.t1[0]/c2, b.t1[1]/c2, b.t2[0]/(c1*c2), b.t2[1]/(c1*c2)) {
				k := r1 * c1 * c2
				lo := math.Max(b.t2[0]/k, b.t1[0]/c2-r1)
				hi := math.Min(b.t2[1]/k, b.t1[1]/c2-r1)
				from, to := within(s.Ohm, lo, hi)
				for _, r2 := range s.Ohm[from:to] {
					b = try(r1, r2, c1, c2)
				}
			}
		}
	}
}

// C1, C2, R1, R2: T1/T2 = (C1+C2)/(R2C1C2), 1/T2 = 1/(R1R2C1C2).
func eachSallenKeyHighPass(s *Stock, b box, try func(...float64) box) {
	for _, c1 := range s.Farad {
		for _, c2 := range s.Farad {
			k := (c1 + c2) / (c1 * c2)
			from, to := within(s.Ohm, k/b.t1[1], k/b.t1[0])
			for _, r2 := range s.Ohm[from:to] {
				k := 1 / (r2 * c1 * c2)
				from, to := within(s.Ohm, k/b.t2[1], k/b.t2[0])
				for _, r1 := range s.Ohm[from:to] {
					b = try(c1, c2, r1, r2)
				}
			}
		}
	}
}

// R1, R2, R3, C1, C2: 1/K = R1/R2, T1 = C2(R2+R3+R2R3/R1), T2 = R2R3C1C2.
func eachMultipleFeedbackLowPass(s *Stock, b box, try func(...float64) box) {
	for _, c1 := range s.Farad {
		for _, c2 := range s.Farad {
			// R2 + (1+K)·R3 = T1/C2, and R2·R3 is known.
			low, high := 1+1/b.inverse[1], 1+1/b.inverse[0]
			for _, r2 := range summands(s.Ohm, b.t1[0]/c2, b.t1[1]/c2, low*b.t2[0]/(c1*c2), high*b.t2[1]/(c1*c2)) {
				k := r2 * c1 * c2
				from, to := within(s.Ohm, b.t2[0]/k, b.t2[1]/k)
				for _, r3 := range s.Ohm[from:to] {
					// C2·R2R3/R1 is what T1 leaves over.
					m := c2 * r2 * r3
					rest := c2 * (r2 + r3)
					lo, hi := r2*b.inverse[0], r2*b.inverse[1]
					if rest >= b.t1[1]*(1+edge) {
						continue
					}
					if over := b.t1[1] - rest; over > 0 {
						lo = math.Max(lo, m/over)
					}
					if over := b.t1[0] - rest; over > 0 {
						hi = math.Min(hi, m/over)
					}
					from, to := within(s.Ohm, lo, hi)
					for _, r1 := range s.Ohm[from:to] {
						b = try(r1, r2, r3, c1, c2)
					}
				}
			}
		}
	}
}

// C1, C2, C3, R1, R2: 1/K = C3/C1, T1/T2 = (C1+C2+C3)/(R2C2C3), 1/T2 = 1/(R1R2C2C3).
func eachMultipleFeedbackHighPass(s *Stock, b box, try func(...float64) box) {
	for _, c1 := range s.Farad {
		from, to := within(s.Farad, c1*b.inverse[0], c1*b.inverse[1])
		for _, c3 := range s.Farad[from:to] {
			for _, c2 := range s.Farad {
				k := (c1 + c2 + c3) / (c2 * c3)
				from, to := within(s.Ohm, k/b.t1[1], k/b.t1[0])
				for _, r2 := range s.Ohm[from:to] {
					k := 1 / (r2 * c2 * c3)
					from, to := within(s.ShuntOhm, k/b.t2[1], k/b.t2[0])
					for _, r1 := range s.ShuntOhm[from:to] {
						b = try(c1, c2, c3, r1, r2)
					}
				}
			}
		}
	}
}

package discretize

import (
	"math"
	"sort"

	"bandwright/biquad"
)

// paired puts numerators to denominators so that the sections are as flat as
// they can be, for little gain between them: the sum over the sections of the
// variance of their level along the axis is the least that exchanges of two
// numerators reach. Missing numerators are constant. It fails where there are
// more numerators than denominators.
func paired(ns, ds [][3]float64) ([]planar, bool) {
	if len(ns) > len(ds) {
		return nil, false
	}
	for len(ns) < len(ds) {
		ns = append(ns, [3]float64{1})
	}
	k := len(ds)
	cost := make([][]float64, k)
	for i, n := range ns {
		cost[i] = make([]float64, k)
		for j, d := range ds {
			cost[i][j] = unevenness(planar{n, d})
		}
	}
	at := make([]int, k) // denominator of every numerator
	for i := range at {
		at[i] = i
	}
	for again := true; again; {
		again = false
		for i := 0; i < k; i++ {
			for j := 0; j < i; j++ {
				now := cost[i][at[i]] + cost[j][at[j]]
				if cost[i][at[j]]+cost[j][at[i]] < now*(1-1e-9) {
					at[i], at[j] = at[j], at[i]
					again = true
				}
			}
		}
	}
	ps := make([]planar, k)
	for i, j := range at {
		ps[j] = planar{ns[i], ds[j]}
	}
	return ps, true
}

// unevenness is the variance of the section's level over the axis from
// v = 2⁻¹² (4 Hz at 48 kHz) to 2³.
func unevenness(p planar) float64 {
	sum, squares, n := 0.0, 0.0, 0.0
	for l := -12.0; l <= 3; l += 0.5 {
		y := math.Exp2(2 * l)
		x := math.Log2((power(p.n, y) + tiny) / power(p.d, y))
		sum += x
		squares += float64(x * x)
		n++
	}
	return squares/n - sum/n*sum/n
}

// level scales every section to 0 dB at y and the first to the whole db.
func level(ps []planar, y, db float64) {
	for i := range ps {
		g := math.Sqrt(power(ps[i].d, y) / power(ps[i].n, y))
		if i == 0 {
			g *= biquad.FromDB(db)
		}
		for k := range ps[i].n {
			ps[i].n[k] *= g
		}
	}
}

// ordered puts the sections with the least peak first, so that no signal is
// lifted before it is cut, and the gain of the whole, with its sign, into the
// first.
func ordered(ps []planar, y float64, negative bool) {
	arranged(ps, y)
	if negative {
		for k := range ps[0].n {
			ps[0].n[k] = -ps[0].n[k]
		}
	}
}

// arranged is ordered for sections that have their signs already.
func arranged(ps []planar, y float64) {
	db := 0.0
	for _, p := range ps {
		db += biquad.DBPerNeper / 2 * math.Log(power(p.n, y)/power(p.d, y))
	}
	level(ps, y, 0)
	peaks := make([]float64, len(ps))
	for i, p := range ps {
		for l := -12.0; l <= 3; l += 0.25 {
			v := math.Exp2(2 * l)
			peaks[i] = max(peaks[i], power(p.n, v)/power(p.d, v))
		}
	}
	sort.Stable(byPeak{ps, peaks})
	level(ps, y, db)
}

type byPeak struct {
	ps    []planar
	peaks []float64
}

func (b byPeak) Len() int           { return len(b.ps) }
func (b byPeak) Less(i, j int) bool { return b.peaks[i] < b.peaks[j] }
func (b byPeak) Swap(i, j int) {
	b.ps[i], b.ps[j] = b.ps[j], b.ps[i]
	b.peaks[i], b.peaks[j] = b.peaks[j], b.peaks[i]
}

// regrouped are the same zeros and poles in other sections: real ones next to
// each other on the axis share one, and zeros are paired with poles anew. A
// joint fit moves roots past each other, which leaves sections that undo what
// others do. It fails where sections of first order are among them.
func regrouped(ps []planar) ([]planar, bool) {
	var ns, ds [][3]float64
	var zeros, poles []float64 // real ones, infinite where a degree is missing
	lead := 1.0
	split := func(c [3]float64, pairs [][3]float64, reals []float64) ([][3]float64, []float64, float64) {
		if c[2] != 0 && c[1]*c[1] < 4*c[0]*c[2] {
			return append(pairs, [3]float64{c[0] / c[2], c[1] / c[2], 1}), reals, c[2]
		}
		k := 2
		for k > 0 && c[k] == 0 {
			reals = append(reals, math.Inf(1))
			k--
		}
		for i := 0; i < k && c[i] == 0; i++ {
			reals = append(reals, 0)
		}
		for _, s := range roots(c) {
			if s != 0 {
				reals = append(reals, real(s))
			}
		}
		return pairs, reals, c[k]
	}
	for _, p := range ps {
		if p.d[2] == 0 || p.n == [3]float64{} {
			return nil, false
		}
		var n, d float64
		ns, zeros, n = split(p.n, ns, zeros)
		ds, poles, d = split(p.d, ds, poles)
		lead *= n / d
	}
	if len(zeros)%2 != 0 || len(poles)%2 != 0 {
		return nil, false
	}
	join := func(reals []float64, pairs [][3]float64) [][3]float64 {
		sort.SliceStable(reals, func(i, j int) bool { return math.Abs(reals[i]) < math.Abs(reals[j]) })
		for ; len(reals) > 1; reals = reals[2:] {
			a, b := reals[0], reals[1]
			switch {
			case math.IsInf(a, 0):
				pairs = append(pairs, [3]float64{1})
			case math.IsInf(b, 0):
				pairs = append(pairs, [3]float64{-a, 1})
			default:
				pairs = append(pairs, [3]float64{a * b, -a - b, 1})
			}
		}
		return pairs
	}
	ns, ds = join(zeros, ns), join(poles, ds)
	out, ok := paired(ns, ds)
	if ok {
		for k := range out[0].n {
			out[0].n[k] *= lead
		}
	}
	return out, ok
}

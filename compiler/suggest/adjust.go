package suggest

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
)

const (
	tooMuch  = 15.0 // weight of a dB of boost beyond what is allowed
	step     = 1e-4 // of finite differences, in units of x
	leastOff = 0.2  // dB; a peak is not begun for less
	mostOff  = 18.0 // dB
	peaks    = 8    // frequencies at which peaks are begun
)

// starts are the numbers from which a form's are adjusted, for a response to which filters
// with a level have been added already.
func (g *grid) starts(f *Form, have []float64) [][]float64 {
	left := g.left(have)
	var out [][]float64
	begin := func(hz, off float64) {
		x := f.start(hz, max(-mostOff, min(off, mostOff)))
		filter{f, x}.bound(&g.Wish)
		out = append(out, x)
	}
	if f.acts == around && f.Kind == "peak" {
		for _, i := range g.extremes(left) {
			begin(g.hz[i], left[i])
		}
		return out
	}
	for _, hz := range biquad.Octaves(g.FromHz/1.5, g.ToHz*1.5, 1) {
		var under, over float64
		n, m := 0.0, 0.0
		for i, e := range left {
			switch {
			case !g.counts[i]:
			case g.hz[i] < hz:
				under, n = under+e, n+1
			default:
				over, m = over+e, m+1
			}
		}
		if n > 0 {
			under /= n
		}
		if m > 0 {
			over /= m
		}
		switch f.acts {
		case below:
			begin(hz, under-over)
		case above:
			begin(hz, over-under)
		default:
			begin(hz, 0)
		}
	}
	return out
}

// extremes are where the error is greatest up or down among its neighbours, greatest first.
func (g *grid) extremes(left []float64) []int {
	var out []int
	for i, e := range left {
		if !g.counts[i] || math.Abs(e) < leastOff {
			continue
		}
		beyond := func(k int) bool {
			return k >= 0 && k < len(left) && g.counts[k] && (e > 0 && left[k] > e || e < 0 && left[k] < e)
		}
		if !beyond(i-1) && !beyond(i+1) && !beyond(i-2) && !beyond(i+2) {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(math.Abs(left[b]), math.Abs(left[a])) })
	return out[:min(len(out), peaks)]
}

// problem is the least squares of a list: rows of errors and, behind them, of boost beyond
// what is allowed.
type problem struct {
	g       *grid
	base    []float64 // a level that is there anyway
	weight  []float64 // of the points; nil for 1
	filters []filter
	levels  [][]float64 // of each filter
}

// rows are the errors of a level, and the sum of their squares.
func (p *problem) rows(have []float64) ([]float64, float64) {
	n := len(p.g.hz)
	sum, all := 0.0, 0.0
	for i := range n {
		if p.g.counts[i] {
			w := p.at(i)
			sum += w * (p.g.db[i] + have[i])
			all += w
		}
	}
	mean, usual := sum/all, p.g.median(have)
	out := make([]float64, 2*n)
	cost := 0.0
	for i := range n {
		if p.g.counts[i] {
			out[i] = math.Sqrt(p.at(i)) * (p.g.db[i] + have[i] - mean)
		}
		out[n+i] = tooMuch * max(have[i]-p.g.ceiling(have, usual, i), 0)
		cost += out[i]*out[i] + out[n+i]*out[n+i]
	}
	return out, cost
}

func (p *problem) at(i int) float64 {
	if p.weight == nil {
		return 1
	}
	return p.weight[i]
}

func (p *problem) have() []float64 {
	out := slices.Clone(p.base)
	for _, l := range p.levels {
		for i, db := range l {
			out[i] += db
		}
	}
	return out
}

// adjust changes the numbers of filters so that the sum of the squared errors gets least, by
// the method of Levenberg and Marquardt within their bounds, and returns what is left as an RMS
// error in dB.
func (g *grid) adjust(filters []filter, base []float64, rounds int, weight []float64) float64 {
	p := &problem{g: g, base: base, weight: weight, filters: filters}
	for _, f := range filters {
		f.bound(&g.Wish)
		p.levels = append(p.levels, f.level(g.hz))
	}
	have := p.have()
	r, cost := p.rows(have)
	damp := 0.01
	for range rounds {
		slopes := p.slopes(have, r)
		better := false
		for range 5 {
			moved, levels := p.moved(slopes, r, damp)
			trial := &problem{g: g, base: base, weight: weight, filters: moved, levels: levels}
			then := trial.have()
			rows, c := trial.rows(then)
			if c < cost {
				better = c < cost*(1-1e-5)
				for i := range filters {
					copy(filters[i].x, moved[i].x)
				}
				p.levels, have, r, cost = levels, then, rows, c
				damp = max(damp/4, 1e-6)
				break
			}
			damp *= 4
		}
		if !better {
			break
		}
	}
	n := 0.0
	for _, c := range g.counts {
		if c {
			n++
		}
	}
	return math.Sqrt(cost / n)
}

// slopes are the rows' by each number of each filter.
func (p *problem) slopes(have, r []float64) [][]float64 {
	var out [][]float64
	for k, f := range p.filters {
		for i := range f.x {
			x := slices.Clone(f.x)
			x[i] += step
			level := filter{f.form, x}.level(p.g.hz)
			then := slices.Clone(have)
			for j := range then {
				then[j] += level[j] - p.levels[k][j]
			}
			rows, _ := p.rows(then)
			for j := range rows {
				rows[j] = (rows[j] - r[j]) / step
			}
			out = append(out, rows)
		}
	}
	return out
}

// moved are the filters one damped step further.
func (p *problem) moved(slopes [][]float64, r []float64, damp float64) ([]filter, [][]float64) {
	n := len(slopes)
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n+1)
		for j := range n {
			a[i][j] = dot(slopes[i], slopes[j])
		}
		a[i][n] = -dot(slopes[i], r)
		a[i][i] = a[i][i]*(1+damp) + 1e-9
	}
	d := solved(a)
	out := copied(p.filters)
	levels := make([][]float64, len(out))
	k := 0
	for i, f := range out {
		for j := range f.x {
			f.x[j] += max(-mostStep, min(d[k]/f.form.Adjusts[j].scale(), mostStep)) * f.form.Adjusts[j].scale()
			k++
		}
		f.bound(&p.g.Wish)
		levels[i] = f.level(p.g.hz)
	}
	return out, levels
}

// mostStep bounds a step, in units of scale.
const mostStep = 0.5

// scale is a large change of x.
func (a Adjusted) scale() float64 {
	if a.Unit == inDB {
		return 10
	}
	return 1
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += float64(a[i] * b[i])
	}
	return sum
}

// solved solves n equations, each with its right side behind it, by elimination with
// pivots. a is changed.
func solved(a [][]float64) []float64 {
	n := len(a)
	for k := range n {
		best := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[best][k]) {
				best = i
			}
		}
		a[k], a[best] = a[best], a[k]
		if a[k][k] == 0 {
			continue
		}
		for i := k + 1; i < n; i++ {
			m := a[i][k] / a[k][k]
			for j := k; j <= n; j++ {
				a[i][j] -= float64(m * a[k][j])
			}
		}
	}
	x := make([]float64, n)
	for k := n - 1; k >= 0; k-- {
		s := a[k][n]
		for j := k + 1; j < n; j++ {
			s -= float64(a[k][j] * x[j])
		}
		if a[k][k] != 0 {
			x[k] = s / a[k][k]
		}
	}
	return x
}

package measured

import "math"

// minimum is the phase of the minimum-phase system that has a level. By Bode's
// relation between attenuation and phase (Network Analysis and Feedback Amplifier Design, 1945,
// chapter XIV) it is
//
//	φ(u0) = 1/π ∫ dA/du · ln coth |(u - u0)/2| du,  A = ln |H|, u = ln f
//
// which is exact for a level that is straight between the points of an even grid.
type minimum struct {
	from, step float64 // of the grid, in u
	rad        []float64
	low, high  tail // how the level goes on below and above the points
	lowEnd     float64
	highEnd    float64
}

const (
	perOctave  = 96 // points of the grid
	farOctaves = 10 // that the grid reaches beyond the measured points
)

// minimumOf works out the phase of a level.
func minimumOf(points []point) minimum {
	points = refined(points)
	first, last := points[0].ln, points[len(points)-1].ln
	n := max(int(math.Ceil((last-first)/math.Ln2*perOctave)), 2*perOctave/24)
	step := (last - first) / float64(n)
	inner := averaged(points, first, step, n)
	m := minimum{step: step, low: tailOf(points, false), high: tailOf(points, true)}
	far := int(farOctaves * math.Ln2 / step)
	m.from = first - float64(far)*step
	a := make([]float64, 0, n+1+2*far)
	for i := far; i > 0; i-- {
		a = append(a, inner[0]+m.low.beyond(float64(i)*step)*neper)
	}
	a = append(a, inner...)
	for i := 1; i <= far; i++ {
		a = append(a, inner[n]+m.high.beyond(float64(i)*step)*neper)
	}
	m.lowEnd, m.highEnd = float64(m.low.order)*math.Pi/2, -float64(m.high.order)*math.Pi/2
	m.rad = bode(a, step, float64(m.low.order), -float64(m.high.order))
	return m
}

// neper is 1 dB in nepers.
const neper = math.Ln10 / 20

// at is the phase (radians) at a natural logarithm of frequency.
func (m minimum) at(ln float64) float64 {
	x := (ln - m.from) / m.step
	switch i := int(math.Floor(x)); {
	case x <= 0:
		return m.rad[0]
	case i >= len(m.rad)-1:
		return m.rad[len(m.rad)-1]
	default:
		return m.rad[i] + (x-float64(i))*(m.rad[i+1]-m.rad[i])
	}
}

// refined has further points where those of a response are further apart than the grid's, by cubics: of
// a level that is straight from point to point a sharp resonance has too little phase.
func refined(p []point) []point {
	out := []point{p[0]}
	to := slope(p, 0)
	for i := 1; i < len(p); i++ {
		a, b := p[i-1], p[i]
		from := to
		to = slope(p, i)
		n := int(math.Ceil((b.ln - a.ln) / math.Ln2 * perOctave))
		for k := 1; k < n; k++ {
			t := float64(k) / float64(n)
			out = append(out, point{ln: a.ln + t*(b.ln-a.ln), db: cubic(a, b, from, to, t)})
		}
		out = append(out, b)
	}
	return out
}

// cubic is the level between two points with these slopes, at a part of the way.
func cubic(a, b point, from, to, t float64) float64 {
	wide, rise := b.ln-a.ln, b.db-a.db
	return a.db + t*rise + t*(1-t)*((1-t)*(from*wide-rise)-t*(to*wide-rise))
}

// slope is that of the level at a point, dB a unit of ln f: of the polynomial through the two
// neighbours on both sides, where these are about evenly spaced, else of the straight line between the next ones.
func slope(p []point, i int) float64 {
	if i >= 2 && i+2 < len(p) {
		least, most := math.Inf(1), 0.0
		for k := i - 1; k <= i+2; k++ {
			d := p[k].ln - p[k-1].ln
			least, most = math.Min(least, d), math.Max(most, d)
		}
		if most < 1.5*least {
			return derivative(p[i-2:i+3], 2)
		}
	}
	a, b := p[max(i-1, 0)], p[min(i+1, len(p)-1)]
	return (b.db - a.db) / (b.ln - a.ln)
}

// derivative is that of the polynomial through points, at the i-th of them (J. L. Lagrange).
func derivative(p []point, i int) float64 {
	sum := 0.0
	for k := range p {
		if k == i {
			continue
		}
		weight := 1 / (p[k].ln - p[i].ln) // how the k-th weighs in the slope, against the i-th
		for j := range p {
			if j != k && j != i {
				weight *= (p[i].ln - p[j].ln) / (p[k].ln - p[j].ln)
			}
		}
		sum += weight * (p[k].db - p[i].db)
	}
	return sum
}

// averaged is the level (nepers) at n+1 points of a grid: inside, its mean over a cell
// around each, so that of closely spaced points all count.
func averaged(points []point, first, step float64, n int) []float64 {
	area := make([]float64, len(points)) // under the level, from the first point
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		area[i] = area[i-1] + (a.db+b.db)/2*(b.ln-a.ln)
	}
	k := 1
	upTo := func(ln float64) (db, under float64) {
		for k < len(points)-1 && points[k].ln < ln {
			k++
		}
		a, b := points[k-1], points[k]
		db = a.db + (ln-a.ln)/(b.ln-a.ln)*(b.db-a.db)
		return db, area[k-1] + (a.db+db)/2*(ln-a.ln)
	}
	out := make([]float64, n+1)
	out[0], out[n] = points[0].db*neper, points[len(points)-1].db*neper
	_, before := upTo(first + step/2)
	for i := 1; i < n; i++ {
		_, under := upTo(first + (float64(i)+0.5)*step)
		out[i] = (under - before) / step * neper
		before = under
	}
	return out
}

// bode integrates: a is the level (nepers) on a grid, low and high its slopes beyond the
// ends (nepers a unit of u).
func bode(a []float64, step, low, high float64) []float64 {
	n := len(a)
	cell := make([]float64, n) // integrals of ln coth |t/2| over the cells from 0 on
	all := make([]float64, n+1)
	for i := range cell {
		cell[i] = lnCoth(float64(i)*step, float64(i+1)*step)
		all[i+1] = all[i] + cell[i]
	}
	slope := make([]float64, n-1)
	for i := range slope {
		slope[i] = (a[i+1] - a[i]) / step
	}
	out := make([]float64, n)
	const half = math.Pi * math.Pi / 4 // the integral from 0 to infinity
	for k := range out {
		sum := float64(low*(half-all[k])) + float64(high*(half-all[n-1-k]))
		for i, s := range slope {
			c := i - k
			if c < 0 {
				c = -1 - c
			}
			sum += float64(s * cell[c])
		}
		out[k] = sum / math.Pi
	}
	return out
}

// lnCoth is the integral of ln coth (t/2) from a to b, 0 ≤ a < b: that of -ln (t/2) in closed
// form, and of what is left, which is smooth, by Gauss's rule of two points.
func lnCoth(a, b float64) float64 {
	closed := func(t float64) float64 {
		if t == 0 {
			return 0
		}
		return t * (1 - math.Log(t/2))
	}
	smooth := func(t float64) float64 {
		e := -math.Expm1(-t) // coth(t/2) = (1 + e⁻ᵗ)/(1 - e⁻ᵗ)
		return math.Log(t / 2 * (2 - e) / e)
	}
	mid, d := (a+b)/2, (b-a)/2/math.Sqrt(3)
	return closed(b) - closed(a) + (b-a)/2*(smooth(mid-d)+smooth(mid+d))
}

package measured

import (
	"fmt"
	"math"
	"slices"
)

// tail is how a level goes on beyond the measured points: as |H|² = yᵏ·N(y²)/D(y²) with
// y the frequency over that of the last point (or its inverse above), k twice the order, N and D
// polynomials, N(0) = 1. That is what every filter does far from its corner, with N that of
// resonances and notches that are over; of those that fit the last octave, the one of the fewest terms is taken.
type tail struct {
	order int
	d     []float64 // of D, ascending
	n     []float64 // of N from y² on
	left  float64   // of its fit, squares in standard deviations of the noise
}

// says is the slope far out.
func (t tail) says() string { return fmt.Sprintf("%d dB an octave", 6*t.order) }

// beyond is the level (dB) at a distance in ln f beyond the last point, relative to it.
func (t tail) beyond(distance float64) float64 {
	y := math.Exp2(-distance / math.Ln2)
	return (-float64(t.order)*distance - math.Log(t.denominator(y*y)/t.denominator(1)*t.numerator(1)/t.numerator(y*y))/2) / neper
}

func (t tail) numerator(y2 float64) float64 {
	v := 0.0
	for i := len(t.n) - 1; i >= 0; i-- {
		v = (v + t.n[i]) * y2
	}
	return 1 + v
}

func (t tail) denominator(y2 float64) float64 {
	v := 0.0
	for i := len(t.d) - 1; i >= 0; i-- {
		v = v*y2 + t.d[i]
	}
	return v
}

const (
	mostOrder   = 8
	mostDegree  = 5  // of D
	mostNotches = 2  // degree of N
	tailPoints  = 96 // of the octave that it is fitted to
	noisePoints = 24 // of the same, which noise is told from
	leastD      = 0.15
	// reweighed is how often a fit is weighed anew by the N of the one before.
	reweighed = 4
	// a term of N costs as much as so many of D, an order so much of one: noise looks steep
	notchCost, orderCost = 2, 0.5
)

// tailOf fits the tail below or above the points.
func tailOf(points []point, above bool) tail {
	first, last := points[0].ln, points[len(points)-1].ln
	wide := min(math.Ln2, (last-first)/2)
	start := first
	if above {
		start = last - wide
	}
	cells := func(n int) []float64 { return averaged(points, start, wide/float64(n), n)[1:n] } // the ends are no means
	noise := max(rough(cells(noisePoints)), 4e-4)
	a := cells(tailPoints)
	y := make([]float64, len(a))
	for i := range y {
		y[i] = math.Exp2(float64(i+1) * wide / tailPoints / math.Ln2)
	}
	if above {
		slices.Reverse(a)
	}
	var all []tail
	for order := 0; order <= mostOrder; order++ {
		for notches := 0; notches <= mostNotches; notches++ {
			for degree := notches; degree <= min(max(order, 1)+notches, mostDegree); degree++ {
				if t := fitTail(y, a, tail{order: order, d: make([]float64, degree+1), n: make([]float64, notches)}, noise); t.d != nil {
					all = append(all, t)
				}
			}
		}
	}
	return simplest(all)
}

// simplest is the tail whose rest, size and number of terms cost least (G. Schwarz's criterion, 1978). Where even
// the nearest leaves more than noise would, that is what noise is taken as.
func simplest(all []tail) tail {
	nearest := math.Inf(1)
	for _, t := range all {
		nearest = math.Min(nearest, t.left)
	}
	scale := math.Max(1, nearest/noisePoints)
	best, least := tail{d: []float64{1}}, math.Inf(1)
	for _, t := range all {
		bend := math.Log(t.d[0])
		terms := float64(len(t.d)) + notchCost*float64(len(t.n)) + orderCost*float64(t.order)
		if cost := t.left/scale + 8*bend*bend + terms*math.Log(noisePoints); cost < least {
			best, least = t, cost
		}
	}
	return best
}

// rough is how much of a level (nepers) is noise: by its fourth differences, which a smooth one has none
// of. Where a resonance makes a few of them large, by their median.
func rough(a []float64) float64 {
	var all []float64
	sum := 0.0
	for i := 2; i < len(a)-2; i++ {
		d := math.Abs(a[i-2]-4*a[i-1]+6*a[i]-4*a[i+1]+a[i+2]) / math.Sqrt(70) // 1 + 16 + 36 + 16 + 1 = 70
		all = append(all, d)
		sum += d * d
	}
	slices.Sort(all)
	const normal = 0.6745 // the median of a normal distribution's magnitudes, in standard deviations
	return math.Min(math.Sqrt(sum/float64(len(all))), 2.5*all[len(all)/2]/normal)
}

// fitTail fits a tail of one order and degrees: D and N are linear in D/N - yᵏ/|H|², whose relative
// error is made small, weighed by the N before (C. K. Sanathanan, J. Koerner, IEEE Trans. Automatic Control 8, 1963).
// No d comes where D or N vanishes somewhere beyond the last point.
func fitTail(y, a []float64, t tail, noise float64) tail {
	terms, all := len(t.d), len(t.d)+len(t.n)
	// cells stand for each other where there are more than those that noise was told from
	sigma := 2 * noise * math.Sqrt(float64(tailPoints)/noisePoints)
	for range reweighed {
		var rows [][]float64
		for i := range y {
			y2 := y[i] * y[i]
			weight := 1 / (sigma * t.numerator(y2))
			v := math.Exp2((2*(a[i]-a[0])-2*float64(t.order)*math.Log(y[i]))/math.Ln2) * weight
			row := make([]float64, all+1)
			for k := range terms {
				row[k] = v
				v *= y2
			}
			w := weight
			for k := terms; k < all; k++ {
				w *= y2
				row[k] = -w
			}
			row[all] = weight
			rows = append(rows, row)
		}
		for k := 1; k < all; k++ { // terms beyond the first are expected to be small
			row := make([]float64, all+1)
			row[k] = 1
			rows = append(rows, row)
		}
		x, left := leastSquares(rows, all)
		t.d, t.n, t.left = x[:terms], x[terms:], left
		for i := 0; i <= 64; i++ {
			if x := float64(i) / 64; !(t.denominator(x) > leastD) || !(t.numerator(x) > leastD) {
				return tail{}
			}
		}
		if len(t.n) == 0 {
			break
		}
	}
	return t
}

// leastSquares solves rows of n coefficients and a right side by Householder's
// reflections; left is the sum of the squares that are left.
func leastSquares(rows [][]float64, n int) (x []float64, left float64) {
	for k := range n {
		norm := 0.0
		for _, r := range rows[k:] {
			norm += r[k] * r[k]
		}
		norm = math.Sqrt(norm)
		if norm == 0 {
			continue
		}
		if rows[k][k] > 0 {
			norm = -norm
		}
		v := make([]float64, len(rows)-k)
		for i := range v {
			v[i] = rows[k+i][k]
		}
		v[0] -= norm
		vv := -2 * norm * v[0]
		for c := k; c <= n; c++ {
			dot := 0.0
			for i := range v {
				dot += v[i] * rows[k+i][c]
			}
			for i := range v {
				rows[k+i][c] -= 2 * dot / vv * v[i]
			}
		}
	}
	x = make([]float64, n)
	for k := n - 1; k >= 0; k-- {
		s := rows[k][n]
		for c := k + 1; c < n; c++ {
			s -= rows[k][c] * x[c]
		}
		if rows[k][k] != 0 {
			x[k] = s / rows[k][k]
		}
	}
	for _, r := range rows[n:] {
		left += r[n] * r[n]
	}
	return x, left
}

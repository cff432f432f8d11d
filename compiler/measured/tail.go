package measured

import (
	"fmt"
	"math"
	"slices"
)

// tail is how a level goes on beyond the measured points: as |H|² = yᵏ/D(y²) with
// y the frequency over that of the last point (or its inverse above), k twice the order, D a
// polynomial with D(1) = 1. That is what every filter does far from its corner; of those
// that fit the last octave, the one of the least order is taken.
type tail struct {
	order int
	d     []float64 // of D, ascending
}

// says is the slope far out.
func (t tail) says() string { return fmt.Sprintf("%d dB an octave", 6*t.order) }

// beyond is the level (dB) at a distance in ln f beyond the last point, relative to it.
func (t tail) beyond(distance float64) float64 {
	y := math.Exp2(-distance / math.Ln2)
	return (-float64(t.order)*distance - math.Log(t.denominator(y*y)/t.denominator(1))/2) / neper
}

func (t tail) denominator(y2 float64) float64 {
	v := 0.0
	for i := len(t.d) - 1; i >= 0; i-- {
		v = v*y2 + t.d[i]
	}
	return v
}

const (
	mostOrder  = 8
	mostDegree = 5  // of D
	tailPoints = 24 // of the octave that it is fitted to
	leastD     = 0.15
)

// tailOf fits the tail below or above the points.
func tailOf(points []point, above bool) tail {
	first, last := points[0].ln, points[len(points)-1].ln
	wide := min(math.Ln2, (last-first)/2)
	n := tailPoints
	step := wide / float64(n)
	start := first
	if above {
		start = last - wide
	}
	a := averaged(points, start, step, n)[1:n] // the ends are no means
	y := make([]float64, n-1)
	for i := range y {
		y[i] = math.Exp2(float64(i+1) * step / math.Ln2)
	}
	if above {
		slices.Reverse(a)
	}
	noise := max(rough(a), 4e-4)
	best, least := tail{d: []float64{1}}, math.Inf(1)
	for order := 0; order <= mostOrder; order++ {
		for degree := 0; degree <= min(max(order, 1), mostDegree); degree++ {
			t, cost := fitTail(y, a, tail{order, make([]float64, degree+1)}, noise)
			if t.d != nil && cost < least {
				best, least = t, cost
			}
		}
	}
	return best
}

// rough is how much of a level (nepers) is noise: its fourth differences, which a smooth
// one has none of.
func rough(a []float64) float64 {
	sum := 0.0
	for i := 2; i < len(a)-2; i++ {
		d := a[i-2] - 4*a[i-1] + 6*a[i] - 4*a[i+1] + a[i+2]
		sum += d * d
	}
	return math.Sqrt(sum / 70 / float64(len(a)-4)) // 1 + 16 + 36 + 16 + 1 = 70
}

// fitTail fits a tail of one order and degree: D is linear in yᵏ/|H|², whose relative error
// is made small. cost grows with what is left, with the size of D's terms and with their
// number (G. Schwarz's criterion, 1978). No d comes where D vanishes somewhere beyond the last point.
func fitTail(y, a []float64, t tail, noise float64) (tail, float64) {
	terms := len(t.d)
	var rows [][]float64
	for i := range y {
		v := math.Exp2((2*(a[i]-a[0])-2*float64(t.order)*math.Log(y[i]))/math.Ln2) / (2 * noise)
		row := make([]float64, terms+1)
		for k := range terms {
			row[k] = v
			v *= y[i] * y[i]
		}
		row[terms] = 1 / (2 * noise)
		rows = append(rows, row)
	}
	for k := 1; k < terms; k++ { // terms beyond the first are expected to be small
		row := make([]float64, terms+1)
		row[k] = 1
		rows = append(rows, row)
	}
	d, left := leastSquares(rows, terms)
	t.d = d
	for i := 0; i <= 64; i++ {
		if x := float64(i) / 64; !(t.denominator(x) > leastD) {
			return tail{}, 0
		}
	}
	bend := math.Log(d[0])
	return t, left + 8*bend*bend + float64(terms)*math.Log(float64(len(y)))
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

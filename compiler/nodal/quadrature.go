package nodal

import "math"

// pair is an integrand without and with weighting.
type pair struct{ flat, weighted float64 }

func (p pair) plus(q pair, by float64) pair {
	return pair{p.flat + by*q.flat, p.weighted + by*q.weighted}
}

// place is an argument with the integrand there.
type place struct {
	x float64
	f pair
}

// quadrature is the adaptive Gauss-Lobatto rule of W. Gander and W. Gautschi
// (BIT 40, 2000).
type quadrature struct {
	of    func(float64) pair
	rough pair // of the whole integral, which errors are compared with
}

// integral is the accuracy to which an integral is found, relative.
const integral = 1e-7

// deepest bounds how often an interval is split, where nothing converges.
const deepest = 12

// adaptive integrates from a to b. It starts from intervals of at most one, which
// are whole octaves here, so that a narrow resonance cannot hide between the
// points of one coarse interval.
func adaptive(f func(float64) pair, a, b float64) pair {
	q := quadrature{of: f}
	pieces := int(math.Ceil(b - a))
	var at []place
	for i := range pieces + 1 {
		x := a + (b-a)*float64(i)/float64(pieces)
		at = append(at, place{x, f(x)})
		q.rough = q.rough.plus(at[i].f, (b-a)/float64(pieces))
	}
	sum := pair{}
	for i := range pieces {
		sum = sum.plus(q.interval(at[i], at[i+1], 0), 1)
	}
	return sum
}

// lobatto integrates over one interval by the 4-point rule and by its
// 7-point Kronrod extension (Gander, Gautschi, equations 2 and 3).
func (q *quadrature) lobatto(a, b place) (four, seven pair, inner [5]place) {
	m, h := (a.x+b.x)/2, (b.x-a.x)/2
	alpha, beta := math.Sqrt(2.0/3), 1/math.Sqrt(5)
	for i, x := range [5]float64{m - alpha*h, m - beta*h, m, m + beta*h, m + alpha*h} {
		inner[i] = place{x, q.of(x)}
	}
	four = pair{}.plus(a.f, h/6).plus(b.f, h/6).plus(inner[1].f, h*5/6).plus(inner[3].f, h*5/6)
	seven = pair{}.plus(a.f, h*77/1470).plus(b.f, h*77/1470).
		plus(inner[0].f, h*432/1470).plus(inner[4].f, h*432/1470).
		plus(inner[1].f, h*625/1470).plus(inner[3].f, h*625/1470).
		plus(inner[2].f, h*672/1470)
	return four, seven, inner
}

// interval splits until both rules agree.
func (q *quadrature) interval(a, b place, depth int) pair {
	four, seven, inner := q.lobatto(a, b)
	if depth >= deepest || math.Abs(seven.flat-four.flat) <= integral*q.rough.flat &&
		math.Abs(seven.weighted-four.weighted) <= integral*q.rough.weighted {
		return seven
	}
	sum := pair{}
	left := a
	for _, right := range append(inner[:], b) {
		sum = sum.plus(q.interval(left, right, depth+1), 1)
		left = right
	}
	return sum
}

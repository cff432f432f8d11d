package nodal

import "math"

// pair is an integrand without and with weighting.
type pair struct{ flat, weighted float64 }

func (p pair) plus(q pair, by float64) pair {
	return pair{p.flat + by*q.flat, p.weighted + by*q.weighted}
}

// place is an argument with the integrands there: of those that are of interest.
type place struct {
	x float64
	f []pair
}

// quadrature is the adaptive Gauss-Lobatto rule of W. Gander and W. Gautschi
// (BIT 40, 2000), for several integrands side by side: what they share at an argument is
// worked out once, and each is split as often as if it were alone.
type quadrature struct {
	// of puts those of the integrands that are asked for, by index.
	of    func(x float64, which []int, dst []pair)
	rough []pair // of the whole integrals, which errors are compared with
}

// integral is the accuracy to which an integral is found, relative.
const integral = 1e-7

// deepest bounds how often an interval is split, where nothing converges.
const deepest = 12

// adaptive integrates n integrands from a to b. It starts from intervals of at most one,
// which are whole octaves here, so that a narrow resonance cannot hide between the
// points of one coarse interval.
func adaptive(n int, f func(x float64, which []int, dst []pair), a, b float64) []pair {
	q := quadrature{of: f, rough: make([]pair, n)}
	which := make([]int, n)
	for k := range which {
		which[k] = k
	}
	pieces := int(math.Ceil(b - a))
	var at []place
	for i := range pieces + 1 {
		p := q.at(a+(b-a)*float64(i)/float64(pieces), which)
		at = append(at, p)
		for k := range q.rough {
			q.rough[k] = q.rough[k].plus(p.f[k], (b-a)/float64(pieces))
		}
	}
	sum := make([]pair, n)
	for i := range pieces {
		part := make([]pair, n)
		q.interval(at[i], at[i+1], 0, which, part)
		for k := range sum {
			sum[k] = sum[k].plus(part[k], 1)
		}
	}
	return sum
}

// at works out some integrands.
func (q *quadrature) at(x float64, which []int) place {
	p := place{x, make([]pair, len(q.rough))}
	q.of(x, which, p.f)
	return p
}

// lobatto integrates one of the integrands over one interval by the 4-point rule and by its
// 7-point Kronrod extension (Gander, Gautschi, equations 2 and 3).
func lobatto(k int, a, b place, inner *[5]place) (four, seven pair) {
	h := (b.x - a.x) / 2
	four = pair{}.plus(a.f[k], h/6).plus(b.f[k], h/6).plus(inner[1].f[k], h*5/6).plus(inner[3].f[k], h*5/6)
	seven = pair{}.plus(a.f[k], h*77/1470).plus(b.f[k], h*77/1470).
		plus(inner[0].f[k], h*432/1470).plus(inner[4].f[k], h*432/1470).
		plus(inner[1].f[k], h*625/1470).plus(inner[3].f[k], h*625/1470).
		plus(inner[2].f[k], h*672/1470)
	return four, seven
}

// interval puts some integrals over an interval into dst, and splits until both rules
// agree.
func (q *quadrature) interval(a, b place, depth int, which []int, dst []pair) {
	m, h := (a.x+b.x)/2, (b.x-a.x)/2
	alpha, beta := math.Sqrt(2.0/3), 1/math.Sqrt(5)
	var inner [5]place
	for i, x := range [5]float64{m - alpha*h, m - beta*h, m, m + beta*h, m + alpha*h} {
		inner[i] = q.at(x, which)
	}
	var open []int
	for _, k := range which {
		four, seven := lobatto(k, a, b, &inner)
		if depth >= deepest || math.Abs(seven.flat-four.flat) <= integral*q.rough[k].flat &&
			math.Abs(seven.weighted-four.weighted) <= integral*q.rough[k].weighted {
			dst[k] = seven
			continue
		}
		open = append(open, k)
		dst[k] = pair{}
	}
	if open == nil {
		return
	}
	part, left := make([]pair, len(dst)), a
	for _, right := range append(inner[:], b) {
		q.interval(left, right, depth+1, open, part)
		for _, k := range open {
			dst[k] = dst[k].plus(part[k], 1)
		}
		left = right
	}
}

package stage

import (
	"math"
	"math/cmplx"
	"slices"
)

// Two parts of a stage are tied where only their product or their ratio matters, as the two
// resistors of a gyrator or those of a divider: one may have any value if the other one goes
// with it. A descent by neighbours does not get there, and where values matter by themselves the
// stock's other values are what is looked for.

const (
	// tiedFrom is how many sets of values are spread along their ties, the best ones, and tiedDB
	// (dB) the error above which what comes of that is of no use.
	tiedFrom, tiedDB = 150, 1.2
	// tiedRatio is what ties are tried with, and tiedExactly how far two responses of tied parts may
	// be apart by rounding.
	tiedRatio, tiedExactly = 3, 1e-9
)

// tiedAt are where ties are tried, in units of the natural frequency.
var tiedAt = [...]float64{0.2, 1, 3}

// tie is two parts: where the i-th is t times as large, the j-th is t times, or 1/t times as large.
type tie struct {
	i, j    int
	inverse bool
}

// ties are those of the parts that a set of values fits, by trial.
func (l *lattice) ties(v []float64) []tie {
	var out []tie
	was := l.t.Closed(v)
	w := slices.Clone(v)
	for i := range v {
		for j := range v {
			if i == j || v[i] == 0 || v[j] == 0 {
				continue
			}
			for _, inverse := range [...]bool{false, true} {
				w[i], w[j] = tiedRatio*v[i], along(v[j], tiedRatio, inverse)
				is := l.t.Closed(w)
				w[i], w[j] = v[i], v[j]
				if !slices.ContainsFunc(tiedAt[:], func(x float64) bool {
					if l.asked.W > 0 {
						x *= l.asked.W
					}
					h := was.At(x)
					return !(cmplx.Abs(is.At(x)-h) <= tiedExactly*cmplx.Abs(h))
				}) {
					out = append(out, tie{i, j, inverse})
				}
			}
		}
	}
	return out
}

// along is what a value becomes with t times as much of the one that it is tied to.
func along(v, t float64, inverse bool) float64 {
	if inverse {
		return v / t
	}
	return v * t
}

// spread shows the pool what the best sets of values become along their ties.
func (l *lattice) spread() {
	known := map[uint64][]tie{} // by which parts are fitted
	for _, e := range slices.Clone(l.pool.list[:min(tiedFrom, len(l.pool.list))]) {
		fitted := uint64(0)
		for i, x := range e.values {
			if x != 0 {
				fitted |= 1 << i
			}
		}
		ties, seen := known[fitted]
		if !seen {
			ties = l.ties(e.values)
			known[fitted] = ties
		}
		w := slices.Clone(e.values)
		for _, t := range ties {
			v, list := e.values, l.lists[t.j]
			for _, w[t.i] = range l.lists[t.i] {
				y := along(v[t.j], w[t.i]/v[t.i], t.inverse)
				if w[t.i] == v[t.i] || y < list[0]/outside || y > list[len(list)-1]*outside {
					continue
				}
				w[t.j] = list[nearest(list, y)]
				l.show(w)
			}
			w[t.i], w[t.j] = v[t.i], v[t.j]
		}
	}
}

// show shows the pool values that are no more than tiedDB off.
func (l *lattice) show(v []float64) {
	limit := math.Min(tiedDB, l.pool.limit())
	if db := l.wanted.error(l.t.Closed(v), limit); db <= limit {
		l.pool.add(db, v)
	}
}

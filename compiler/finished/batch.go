package finished

import (
	"cmp"
	"math"
	"slices"
)

// Pair are two units that are as like each other as is left, for left and right.
type Pair struct {
	A, B    int     // results by index
	ApartDB float64 // greatest difference of level of any way
}

// Batch is what several units are like together.
type Batch struct {
	Kept, Units int
	// MedianDB and WorstDB are how far (dB, unsigned) units are from the prototype, any way, as
	// the promise counts it.
	MedianDB, WorstDB float64
	// DriftDB is by how much the level of later units is higher than that of earlier ones, from the
	// first to the last, along the straight line that fits best, and ScatterDB the standard deviation
	// from it. It is of what a bench does where level means nothing.
	DriftDB, ScatterDB float64
	Pairs              []Pair
	// Left are the results that no pair is left for.
	Left []int
}

// BatchOf looks at units together, in their order.
func BatchOf(all []*Result) *Batch {
	b := &Batch{Units: len(all)}
	var worst, levels []float64
	for _, r := range all {
		if r.Kept() {
			b.Kept++
		}
		worst, levels = append(worst, r.WorstDB()), append(levels, r.meanDB())
	}
	slices.Sort(worst)
	if n := len(worst); n > 0 {
		b.MedianDB, b.WorstDB = worst[n/2], worst[n-1]
	}
	b.DriftDB, b.ScatterDB = trend(levels)
	b.pair(all)
	return b
}

// WorstDB is the greatest error of a way or of the sum (dB, unsigned).
func (r *Result) WorstDB() float64 {
	most := 0.0
	for _, f := range r.Figures {
		if f.Magnitude.Known {
			most = math.Max(most, math.Abs(f.Magnitude.Value))
		}
	}
	return most
}

// meanDB is the unit's level over the nominal one, everything together.
func (r *Result) meanDB() float64 {
	sum := 0.0
	for _, db := range r.apart {
		sum += db
	}
	return r.LevelDB + sum/math.Max(1, float64(len(r.apart)))
}

// trend is the straight line through values, from the first to the last, and the standard
// deviation from it.
func trend(y []float64) (rise, scatter float64) {
	n := float64(len(y))
	if n < 3 {
		return 0, 0
	}
	var mean, slope, square float64
	for _, v := range y {
		mean += v / n
	}
	for i, v := range y {
		x := float64(i) - (n-1)/2
		slope, square = slope+x*v, square+x*x
	}
	slope /= square
	for i, v := range y {
		d := v - mean - slope*(float64(i)-(n-1)/2)
		scatter += d * d
	}
	return slope * (n - 1), math.Sqrt(scatter / (n - 2))
}

// pair takes the two units that are most alike, then of the others again.
func (b *Batch) pair(all []*Result) {
	var every []Pair
	for i, x := range all {
		for k, y := range all[:i] {
			if len(x.apart) != len(y.apart) || !x.Kept() || !y.Kept() {
				continue
			}
			most := 0.0
			for p, db := range x.apart {
				most = math.Max(most, math.Abs(db-y.apart[p]))
			}
			every = append(every, Pair{k, i, most})
		}
	}
	slices.SortStableFunc(every, func(x, y Pair) int { return cmp.Compare(x.ApartDB, y.ApartDB) })
	taken := make([]bool, len(all))
	for _, p := range every {
		if !taken[p.A] && !taken[p.B] {
			taken[p.A], taken[p.B] = true, true
			b.Pairs = append(b.Pairs, p)
		}
	}
	for i, t := range taken {
		if !t {
			b.Left = append(b.Left, i)
		}
	}
}

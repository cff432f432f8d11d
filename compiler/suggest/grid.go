package suggest

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// grid is the wish on frequencies.
type grid struct {
	Wish
	hz     []float64
	db     []float64 // response less target
	counts []bool    // where the error counts
	first  int       // of the points that count
	last   int
	// falls is whether the target falls towards the range's end below or above: then filters
	// must not rise again outside.
	falls  [2]bool
	nulls  []Null
	ripple float64
	within float64
}

const (
	lowestHz, highestHz = 10.0, 24e3 // where boost counts at least
	smoothOctaves       = 1.0 / 6
	// rippled is how many times the RMS of ripple and noise is left of it at worst behind the
	// smoothing, about four independent points wide.
	rippled = 1.25
)

func newGrid(w Wish) *grid {
	g := &grid{Wish: w}
	low, high := min(lowestHz, w.FromHz), max(highestHz, w.ToHz)
	if w.BoostFromHz > 0 {
		low = min(low, w.BoostFromHz)
	}
	n := max(int(math.Ceil(math.Log2(w.ToHz/w.FromHz)*perOctave)), perOctave/2)
	if w.FromHz > low {
		all := biquad.Spaced(low, w.FromHz, max(int(math.Log2(w.FromHz/low)*beside), 1)+1)
		g.hz = append(g.hz, all[:len(all)-1]...)
	}
	first := len(g.hz)
	g.hz = append(g.hz, biquad.Spaced(w.FromHz, w.ToHz, n+1)...)
	last := len(g.hz)
	if w.ToHz < high {
		all := biquad.Spaced(w.ToHz, high, max(int(math.Log2(high/w.ToHz)*beside), 1)+1)
		g.hz = append(g.hz, all[1:]...)
	}
	g.db, g.counts = make([]float64, len(g.hz)), make([]bool, len(g.hz))
	sum := 0.0
	for i := first; i < last; i++ {
		g.counts[i] = true
		raw := w.Response(g.hz[i])
		level := raw
		if w.IsMeasured {
			level = g.smoothed(g.hz[i])
		}
		sum += (raw - level) * (raw - level)
		g.db[i] = level - w.Target(g.hz[i])
	}
	g.first, g.last = first, last-1
	top := math.Inf(-1)
	for _, f := range g.hz[first:last] {
		top = max(top, w.Target(f))
	}
	g.falls = [2]bool{w.Target(w.FromHz) < top-falling, w.Target(w.ToHz) < top-falling}
	g.ripple = math.Sqrt(sum / float64(last-first))
	g.within = max(w.WithinDB, rippled*g.ripple)
	g.holes(first, last)
	return g
}

// falling (dB) is how far a target falls that goes on falling outside of the range.
const falling = 6

// ceiling is the most that filters, of which most of the range gets the usual level, may
// do at a point: where the target falls out of the range, no more than at the range's end.
func (g *grid) ceiling(have []float64, usual float64, i int) float64 {
	switch most := usual + g.BoostDB; {
	case i < g.first && g.falls[0]:
		return min(most, have[g.first])
	case i > g.last && g.falls[1]:
		return min(most, have[g.last])
	default:
		return most
	}
}

// smoothed is the mean level around a frequency, within the range.
func (g *grid) smoothed(hz float64) float64 {
	const n = 8 // points on either side
	half := min(smoothOctaves/2, math.Log2(hz/g.FromHz)+1.0/96, math.Log2(g.ToHz/hz)+1.0/96)
	sum := 0.0
	for k := -n; k <= n; k++ {
		sum += g.Response(hz * math.Exp2(half*float64(k)/n))
	}
	return sum / (2*n + 1)
}

// holes finds the nulls among the points from first to last: less than an octave wide,
// deeper below the median of the octave around than may be boosted. In their place stands what
// would be there without them, so that no filter gains by filling them.
func (g *grid) holes(first, last int) {
	const half = perOctave / 2
	depth := make([]float64, last)
	for i := first; i < last; i++ {
		around := slices.Clone(g.db[max(first, i-half):min(last, i+half+1)])
		slices.Sort(around)
		depth[i] = around[len(around)/2] - g.db[i]
	}
	edge := min(g.within/2, 1)
	for i := first; i < last; i++ {
		if depth[i] <= g.BoostDB {
			continue
		}
		from, to := i, i
		for from > first && depth[from] > edge {
			from--
		}
		for to < last-1 && depth[to] > edge {
			to++
		}
		if to-from < perOctave && from > first && to < last-1 {
			level := g.db[i] + depth[i]
			for k := from + 1; k < to; k++ {
				t := float64(k-from) / float64(to-from)
				g.db[k] = g.db[from] + t*(g.db[to]-g.db[from])
			}
			g.nulls = append(g.nulls, g.null(level, g.hz[from], g.hz[to]))
		}
		i = to
	}
}

// null looks where a null between two points is deepest, below a level.
func (g *grid) null(level, from, to float64) Null {
	n := Null{FromHz: from, ToHz: to}
	for _, hz := range biquad.Spaced(from, to, 400) {
		if depth := level - (g.Response(hz) - g.Target(hz)); depth > n.DepthDB {
			n.Hz, n.DepthDB = hz, depth
		}
	}
	return n
}

// left is the error with filters of a level, on all points; constant what is taken out of it.
func (g *grid) left(have []float64) []float64 {
	mean := g.constant(have)
	out := make([]float64, len(g.hz))
	for i := range out {
		out[i] = g.db[i] + have[i] - mean
	}
	return out
}

// constant makes the greatest errors up and down alike.
func (g *grid) constant(have []float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range g.hz {
		if g.counts[i] {
			e := g.db[i] + have[i]
			low, high = min(low, e), max(high, e)
		}
	}
	return (low + high) / 2
}

// highest is the sum of the most that each filter boosts.
func (g *grid) highest(filters []filter) float64 {
	sum := 0.0
	for _, f := range filters {
		sum += slices.Max(f.level(g.hz))
	}
	return sum
}

// median is what most of the range gets of a level.
func (g *grid) median(have []float64) float64 {
	var counted []float64
	for i, db := range have {
		if g.counts[i] {
			counted = append(counted, db)
		}
	}
	slices.Sort(counted)
	return counted[len(counted)/2]
}

func (g *grid) worst(have []float64) float64 {
	worst := 0.0
	for i, e := range g.left(have) {
		if g.counts[i] {
			worst = max(worst, math.Abs(e))
		}
	}
	return worst
}

// sum is the level of filters, in dB.
func (g *grid) sum(filters []filter) []float64 {
	out := make([]float64, len(g.hz))
	for _, f := range filters {
		for i, db := range f.level(g.hz) {
			out[i] += db
		}
	}
	return out
}

// Package assign decides which of its choices each stage takes, so that the errors
// of stages in series cancel. Errors in dB and radians, which add up along a path,
// come in by stage, choice and frequency, with the paths that pass the stages and the
// sums of paths; an index for each stage goes out. It knows nothing of what a stage
// or a value is.
//
// Search lowers the worst errors of paths and sums; Fewest keeps them within limits
// with as few different values as it finds; Settle takes what else speaks for a
// choice within limits. Fewest anneals, the others are local searches over pairs of stages (2-opt). Held knows a
// pick that stands, and looks for the fewest changes that keep limits: Ones and Pairs try
// all there are, and its Search is such a local search.
//
// The one invariant: the same input gives the same picks on every machine and any
// number of processors: no clock, fixed seeds and move counts, costs compared in
// steps of 1e-9, ties by order.
//
// Read first: Problem, Search, Fewest, Held.
package assign

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"sync/atomic"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
)

// Problem is what there is to choose from, and what it is judged by. Frequencies are
// those that errors are looked at, best in an order in which large errors show soon.
type Problem struct {
	Frequencies int
	Tables      []Table // of each stage
	Paths       []Path
	Sums        []Sum
	// DownDB (dB, > 0) is how far below its peak the wanted response of a path or a
	// sum counts; 0 stands for 40 dB.
	DownDB float64
	// PointDB is how much error (dB) of a way is worth a point of the tables.
	PointDB float64
	// Idle, where not nil, may say that the plan is of no use any more: Search and
	// Fewest then end with what they have.
	Idle func() bool
}

// Errors is a relative error by frequency.
type Errors struct{ DB, Rad []float64 }

// Table holds the choices of one stage.
type Table struct {
	Choices []Errors
	// Points are what speaks against each choice beside its error.
	Points []float64
	// Values are the numbers, from 0, of the values that each choice is made of. Only
	// Fewest asks for them.
	Values [][]int
	// Changes are how many parts of each choice differ from those that stand, and Gone
	// says that what stands may not stay. Only Held asks for them.
	Changes []int
	Gone    bool
}

// changes is how many parts a choice changes.
func (t *Table) changes(choice int) int {
	if t.Changes == nil {
		return 0
	}
	return t.Changes[choice]
}

// Path is the way of the signal to one output in one combination of settings.
type Path struct {
	// Way is a number for the output: of the paths of one way only the worst
	// counts.
	Way int
	// Stages are indices into Problem.Tables; a stage may stand in many paths.
	Stages []int
	// Want is the wanted response by frequency, with gain, polarity and delay where
	// paths sum.
	Want []complex128
	// Extra is realised over wanted response of what else the signal passes. Nil: 1.
	Extra []complex128
	// PerRad is what the stages' errors of phase weigh at each frequency (dB a
	// radian): 0 where phase does not matter. Nil: nowhere.
	PerRad []float64
}

// Sum is a set of paths whose outputs sum, such as the two sides of a crossover
// in one combination of settings.
type Sum struct {
	// Pair is a number for what sums: of the sums of one pair only the worst
	// counts.
	Pair  int
	Paths []int // indices into Problem.Paths
}

// Plan is a choice for every stage.
type Plan struct {
	Pick []int
	// PathDB is the largest error (dB) of each path against its wanted response, phase
	// as Path.PerRad weighs it, and SumDB of each sum.
	PathDB, SumDB []float64
}

// Limits are what a path and a sum may be off by (dB).
type Limits struct{ PathDB, SumDB float64 }

const (
	usualDownDB = 40
	// sumDownDB (dB) is how far a sum may lie below the sum of magnitudes to count.
	sumDownDB = 20
	// aloneShare is the share of the other paths below which one stands alone.
	aloneShare = 0.03
	// mostNumbers bounds the numbers of ways and pairs, far above what a board has.
	mostNumbers = 1000
	// scoreStep is what costs (dB) are compared in, so that the last bits decide
	// nothing.
	scoreStep = 1e-9
	// perNeper is 20/ln 10: dB of a small relative error.
	perNeper = 8.685889638065036553
)

// noLimit is a limit that no error exceeds.
var noLimit = math.Inf(1)

// check says what is wrong with a problem.
func (p *Problem) check() error {
	if p.Frequencies < 1 {
		return errors.New("a choice of values needs frequencies to look at")
	}
	for i, t := range p.Tables {
		if len(t.Choices) == 0 {
			return fmt.Errorf("stage %d has no choice of values", i)
		}
	}
	for n, path := range p.Paths {
		if path.Way < 0 || path.Way >= mostNumbers {
			return fmt.Errorf("path %d has a way %d: ways are numbered from 0", n, path.Way)
		}
		if len(path.Want) != p.Frequencies || path.Extra != nil && len(path.Extra) != p.Frequencies ||
			path.PerRad != nil && len(path.PerRad) != p.Frequencies {
			return fmt.Errorf("path %d has not as many responses as there are frequencies", n)
		}
		for _, s := range path.Stages {
			if s < 0 || s >= len(p.Tables) {
				return fmt.Errorf("path %d passes a stage %d that does not exist", n, s)
			}
		}
	}
	for n, s := range p.Sums {
		if s.Pair < 0 || s.Pair >= mostNumbers {
			return fmt.Errorf("sum %d has a pair %d: pairs are numbered from 0", n, s.Pair)
		}
		for _, path := range s.Paths {
			if path < 0 || path >= len(p.Paths) {
				return fmt.Errorf("sum %d has a path %d that does not exist", n, path)
			}
		}
	}
	return nil
}

// prepared is a problem with what is worked out of it once.
type prepared struct {
	frequencies int
	tables      []table
	paths       []path
	sums        []sum
	// What is judged are the paths, and behind them the sums. group is a number for each
	// of them: ways, and behind them pairs. Of every group the worst counts.
	group       []int
	ways, pairs int
	zero        Errors
}

// involves reports whether what is judged, by its number, hangs on one of two stages.
func (p *prepared) involves(n, i, j int) bool {
	in := func(path int) bool { return p.paths[path].passes(i) || p.paths[path].passes(j) }
	if n < len(p.paths) {
		return in(n)
	}
	return slices.ContainsFunc(p.sums[n-len(p.paths)].Paths, in)
}

// table is a Table with the errors in dB by frequency, then choice.
type table struct {
	Table
	column [][]float64
	// turns are those in radians, where they have been asked for.
	turns []atomic.Pointer[[]float64]
}

// turnsAt are the errors in radians at a frequency, by choice.
func (t *table) turnsAt(k int) []float64 {
	if known := t.turns[k].Load(); known != nil {
		return *known
	}
	column := make([]float64, len(t.Choices))
	for c, e := range t.Choices {
		column[c] = e.Rad[k]
	}
	t.turns[k].Store(&column)
	return column
}

// path is a Path with what is worked out of it once.
type path struct {
	Path
	has     []bool    // by stage
	at      []int     // frequencies that count
	turns   []int     // those of at where phase matters
	extraDB []float64 // of Extra
}

// passes reports whether a path passes a stage; none is -1.
func (t *path) passes(stage int) bool { return stage >= 0 && t.has[stage] }

// sum is a Sum with the share of each path in it.
type sum struct {
	Sum
	at []int // frequencies that count
	// near are those of at where no path stands alone: elsewhere the sum's error is
	// that of the path.
	near  []int
	share [][]complex128 // by path and frequency: response but for the stages' errors, over wanted sum
}

// prepare checks a problem and prepares it.
func (p *Problem) prepare() (*prepared, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	b := &prepared{frequencies: p.Frequencies, tables: make([]table, len(p.Tables)), zero: newErrors(p.Frequencies)}
	parallel.Each(len(p.Tables), func(i int) {
		t := &b.tables[i]
		t.Table, t.column, t.turns = p.Tables[i], make([][]float64, p.Frequencies), make([]atomic.Pointer[[]float64], p.Frequencies)
		for k := range t.column {
			t.column[k] = make([]float64, len(t.Choices))
			for c, e := range t.Choices {
				t.column[k][c] = e.DB[k]
			}
		}
	})
	down := p.DownDB
	if down == 0 {
		down = usualDownDB
	}
	for _, x := range p.Paths {
		b.ways = max(b.ways, x.Way+1)
		b.group = append(b.group, x.Way)
		b.paths = append(b.paths, newPath(x, len(p.Tables), biquad.FromDB(-down)))
	}
	for _, s := range p.Sums {
		b.pairs = max(b.pairs, s.Pair+1)
		b.group = append(b.group, b.ways+s.Pair)
		b.sums = append(b.sums, newSum(s, p.Paths, biquad.FromDB(-down)))
	}
	return b, nil
}

// newPath prepares a path that counts where its wanted response is above a share of
// its peak.
func newPath(x Path, stages int, share float64) path {
	t := path{Path: x, has: make([]bool, stages), extraDB: make([]float64, len(x.Want))}
	peak := 0.0
	for k, h := range x.Want {
		peak = math.Max(peak, cmplx.Abs(h))
		if x.Extra != nil {
			t.extraDB[k] = biquad.GainDB(cmplx.Abs(x.Extra[k]))
		}
	}
	for k, h := range x.Want {
		if m := cmplx.Abs(h); m > 0 && m >= peak*share {
			if t.at = append(t.at, k); x.PerRad != nil && x.PerRad[k] > 0 {
				t.turns = append(t.turns, k)
			}
		}
	}
	for _, s := range x.Stages {
		t.has[s] = true
	}
	return t
}

// newSum prepares a sum that counts where it is above a share of its peak.
func newSum(s Sum, paths []Path, share float64) sum {
	m := sum{Sum: s, share: make([][]complex128, len(s.Paths))}
	if len(s.Paths) == 0 {
		return m
	}
	frequencies := len(paths[s.Paths[0]].Want)
	total, magnitude := make([]complex128, frequencies), make([]float64, frequencies)
	peak := 0.0
	for k := range total {
		for _, n := range s.Paths {
			total[k] += paths[n].Want[k]
			magnitude[k] += cmplx.Abs(paths[n].Want[k])
		}
		peak = math.Max(peak, cmplx.Abs(total[k]))
	}
	for i := range s.Paths {
		m.share[i] = make([]complex128, frequencies)
	}
	for k, sum := range total {
		if m := cmplx.Abs(sum); m == 0 || m < peak*share || m < magnitude[k]*biquad.FromDB(-sumDownDB) {
			continue
		}
		alone := false
		for i, n := range s.Paths {
			m.share[i][k] = paths[n].Want[k] / sum
			if paths[n].Extra != nil {
				m.share[i][k] *= paths[n].Extra[k]
			}
			alone = alone || magnitude[k]-cmplx.Abs(paths[n].Want[k]) < magnitude[k]*aloneShare
		}
		if m.at = append(m.at, k); !alone {
			m.near = append(m.near, k)
		}
	}
	return m
}

func newErrors(n int) Errors { return Errors{make([]float64, n), make([]float64, n)} }

// add puts the errors of b on top of those of e, and subtract takes them away.
func (e Errors) add(b Errors) {
	for k := range e.DB {
		e.DB[k] += b.DB[k]
		e.Rad[k] += b.Rad[k]
	}
}

func subtract(a, b []float64) {
	for k := range a {
		a[k] -= b[k]
	}
}

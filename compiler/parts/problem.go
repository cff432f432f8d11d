package parts

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
)

// Problem is a board whose values are chosen together: the errors of stages in
// series add up, so they can be made to cancel.
type Problem struct {
	// Hz are the frequencies at which errors are looked at, such as those of Grid
	// with the corners of the sections.
	Hz     []float64
	Stages []Stage
	Paths  []Path
	Sums   []Sum
	// DownDB (dB, > 0) is how far below its peak the wanted response of a path or a
	// sum counts, and SumDownDB how far the sum may lie below the sum of magnitudes.
	// 0 stands for 40 dB and 20 dB.
	DownDB, SumDownDB float64
	// Known, where not nil, keeps what has been computed with the real op-amp for
	// the next problem with the same bench and the same Hz.
	Known *Known
	// Idle, where not nil, may say that the plan is of no use any more: Joint then
	// ends with what it has.
	Idle func() bool
}

// Stage is a position of the board with the choices that it has. Those whose
// level is not that of the first in magnitude are passed over, as what makes up
// for the level has been settled. At most MostCandidates count.
type Stage struct{ Candidates []Choice }

// MostCandidates is how many choices of a stage Joint considers: the pairs of
// them are what it tries.
const MostCandidates = 200

// Path is the way of the signal from the board's input to one output in one
// combination of settings.
type Path struct {
	// Way is a number for the output: of the paths of one way only the worst
	// counts.
	Way int
	// Stages are indices into Problem.Stages; stages before the ways split stand
	// in many paths.
	Stages []int
	// Want is the wanted response at the problem's frequencies, with gain,
	// polarity and delay where paths sum. Nil: the product of the sections.
	Want []complex128
	// Extra is realised over wanted response of what else the signal passes:
	// coupling, loading. Nil: 1.
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
	Choices []Choice
	// PathDB is the largest error (dB) of each path against its wanted response, phase
	// as Path.PerRad weighs it, and SumDB of each sum, with the real op-amp.
	PathDB, SumDB []float64
}

// Distinct counts the different resistor and capacitor values of a plan.
func (p *Plan) Distinct() (resistors, capacitors int) {
	r, c := map[float64]bool{}, map[float64]bool{}
	for _, x := range p.Choices {
		for i, e := range x.Topology.Parts() {
			switch {
			case x.Values[i] == 0:
			case isCapacitor(e):
				c[x.Values[i]] = true
			default:
				r[x.Values[i]] = true
			}
		}
	}
	return len(r), len(c)
}

// Worst is the largest error (dB) of any path and of any sum.
func (p *Plan) Worst() (path, sum float64) {
	for _, e := range p.PathDB {
		path = math.Max(path, e)
	}
	for _, e := range p.SumDB {
		sum = math.Max(sum, e)
	}
	return path, sum
}

// table holds the error of each choice of a stage at each frequency, relative to
// its wanted response: dB and radians, which add up along a path.
type table struct {
	db, rad [][]float64
	column  [][]float64 // db by frequency, then choice
	points  []float64   // what speaks against the choice beside its error
}

// board is a problem with everything tabulated, frequencies in the order in which
// errors show soonest.
type board struct {
	hz     []float64
	stages []table
	paths  []track
	sums   []meeting
	ways   int
	pairs  int
	zero   []float64 // as many as frequencies
}

// track is a path.
type track struct {
	way    int
	stages []int
	has    []bool    // by stage
	at     []int     // frequencies that count
	extra  []float64 // dB of what is no stage
	turns  []int     // those of at where phase matters, and how much
	perRad []float64
}

// meeting is a sum: the share of each path in it.
type meeting struct {
	pair  int
	paths []int
	at    []int
	// near are those of at where no path stands alone: elsewhere the sum's error is
	// that of the path.
	near  []int
	share [][]complex128 // by path and frequency: response but for the stages' errors, over wanted sum
}

const (
	usualDownDB    = 40
	usualSumDownDB = 20
	// aloneShare is the share of the other paths below which one stands alone.
	aloneShare = 0.03
)

// mostNumbers bounds the numbers of ways and pairs, far above what a board has.
const mostNumbers = 1000

// check says what is wrong with a problem.
func (p *Problem) check() error {
	if len(p.Hz) == 0 {
		return errors.New("a choice of values needs frequencies to look at")
	}
	for i, s := range p.Stages {
		if len(s.Candidates) == 0 {
			return fmt.Errorf("stage %d has no choice of values", i)
		}
	}
	for n, path := range p.Paths {
		if path.Way < 0 || path.Way >= mostNumbers {
			return fmt.Errorf("path %d has a way %d: ways are numbered from 0", n, path.Way)
		}
		if path.Want != nil && len(path.Want) != len(p.Hz) || path.Extra != nil && len(path.Extra) != len(p.Hz) ||
			path.PerRad != nil && len(path.PerRad) != len(p.Hz) {
			return fmt.Errorf("path %d has not as many responses as there are frequencies", n)
		}
		for _, s := range path.Stages {
			if s < 0 || s >= len(p.Stages) {
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

// tabulate checks a problem and prepares it. Stages come in a table each, filled
// by fill.
func (p *Problem) tabulate(fill func(stage int, hz []float64) (table, error)) (*board, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	order := spread(len(p.Hz), -1)
	b := &board{hz: make([]float64, len(p.Hz)), stages: make([]table, len(p.Stages)), zero: make([]float64, len(p.Hz))}
	for k, i := range order {
		b.hz[k] = p.Hz[i]
	}
	if err := each(len(p.Stages), func(i int) (err error) {
		b.stages[i], err = fill(i, b.hz)
		for k := range b.hz {
			column := make([]float64, len(b.stages[i].db))
			for c, db := range b.stages[i].db {
				column[c] = db[k]
			}
			b.stages[i].column = append(b.stages[i].column, column)
		}
		return err
	}); err != nil {
		return nil, err
	}
	want := make([][]complex128, len(p.Paths))
	down, sumDown := p.DownDB, p.SumDownDB
	if down == 0 {
		down = usualDownDB
	}
	if sumDown == 0 {
		sumDown = usualSumDownDB
	}
	for n, path := range p.Paths {
		t := track{way: path.Way, stages: path.Stages, has: make([]bool, len(p.Stages)),
			extra: make([]float64, len(order))}
		b.ways = max(b.ways, path.Way+1)
		want[n] = make([]complex128, len(order))
		peak := 0.0
		for k, i := range order {
			h := complex(1, 0)
			if path.Want != nil {
				h = path.Want[i]
			} else {
				for _, s := range path.Stages {
					h *= p.Stages[s].Candidates[0].Section.At(2 * math.Pi * p.Hz[i])
				}
			}
			want[n][k] = h
			peak = math.Max(peak, cmplx.Abs(h))
			if path.Extra != nil {
				t.extra[k] = biquad.GainDB(cmplx.Abs(path.Extra[i]))
			}
		}
		for k, h := range want[n] {
			if m := cmplx.Abs(h); m > 0 && m >= peak*biquad.FromDB(-down) {
				if t.at = append(t.at, k); path.PerRad != nil && path.PerRad[order[k]] > 0 {
					t.turns, t.perRad = append(t.turns, k), append(t.perRad, path.PerRad[order[k]])
				}
			}
		}
		for _, s := range path.Stages {
			t.has[s] = true
		}
		b.paths = append(b.paths, t)
	}
	for _, s := range p.Sums {
		m := meeting{pair: s.Pair, paths: s.Paths, share: make([][]complex128, len(s.Paths))}
		for i := range s.Paths {
			m.share[i] = make([]complex128, len(order))
		}
		b.pairs = max(b.pairs, s.Pair+1)
		total, magnitude := make([]complex128, len(order)), make([]float64, len(order))
		peak := 0.0
		for k := range order {
			for _, path := range s.Paths {
				total[k] += want[path][k]
				magnitude[k] += cmplx.Abs(want[path][k])
			}
			peak = math.Max(peak, cmplx.Abs(total[k]))
		}
		floor := peak * biquad.FromDB(-down)
		for k, sum := range total {
			if m := cmplx.Abs(sum); m == 0 || m < floor || m < magnitude[k]*biquad.FromDB(-sumDown) {
				continue
			}
			for i, path := range s.Paths {
				m.share[i][k] = want[path][k] / sum
				if extra := p.Paths[path].Extra; extra != nil {
					m.share[i][k] *= extra[order[k]]
				}
			}
			m.at = append(m.at, k)
			alone := false
			for _, path := range s.Paths {
				alone = alone || magnitude[k]-cmplx.Abs(want[path][k]) < magnitude[k]*aloneShare
			}
			if !alone {
				m.near = append(m.near, k)
			}
		}
		b.sums = append(b.sums, m)
	}
	return b, nil
}

// logarithm is a relative error in dB and radians.
func logarithm(e complex128) (db, rad float64) {
	return biquad.GainDB(cmplx.Abs(e)), math.Atan2(imag(e), real(e))
}

// each runs f for 0 to n-1 on all processors; the error of the lowest index wins.
func each(n int, f func(int) error) error {
	errs := make([]error, n)
	parallel.Each(n, func(i int) { errs[i] = f(i) })
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

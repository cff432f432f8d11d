package board

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/assign"
	"bandwright/compiler/progress"
	"bandwright/compiler/stage"
	"bandwright/compiler/values"
	"bandwright/compiler/words"
)

// betweenShares are the shares of the wish that few values may use up at the
// frequencies that they are looked for at, one tried after the other: true maxima lie
// between them. Values found are looked at again at finePerOctave.
var betweenShares = [...]float64{0.97, 0.9, 0.8}

const finePerOctave = 48

// fewValues replaces the chosen values by as few different ones as are found with
// every way and the sum of every pair of neighbours within the wish and the
// promises, in all combinations of settings. Where the chosen values are not
// within it themselves they stay, and a caution says so.
func (b *Board) fewValues(ctx context.Context, j Job, bench *stage.Bench) error {
	v, p := b.whole(j, bench, j.few(), perOctave)
	if len(v.stages) == 0 {
		return nil
	}
	v.varied(&p)
	p.Idle = func() bool { return ctx.Err() != nil }
	from, err := values.Each(p)
	if err != nil {
		return err
	}
	why := "the initial values are not all within " + words.Exact(j.wished()) + " dB of the prototype, or within a tighter promise"
	before := b.chosenValues()
	for i, share := range betweenShares {
		progress.Say(ctx, fmt.Sprintf("looking for few different values of %d stages, try %d of %d", len(v.stages), i+1, len(betweenShares)))
		plan, kept, err := values.Few(p, from, assign.Limits{PathDB: share * j.FewDB, SumDB: share * j.FewSumDB})
		if err = cmp.Or(ctx.Err(), err); err != nil {
			return err
		}
		if !kept {
			break
		}
		why = "the reduced set of values exceeds " + words.Exact(j.wished()) + " dB, or a tighter promise, between the frequencies of the search"
		v.put(plan.Candidates)
		if err := b.rejoin(bench); err != nil {
			return err
		}
		path, sum, err := b.foreseen(j, bench, j.few())
		found := path <= j.FewDB && sum <= j.FewSumDB
		if found {
			b.boundValues, b.exactValues = j.boundValues(), before
		}
		if err != nil || found && b.chosenValues() < before {
			return err
		}
		v.put(from.Candidates)
		if err := b.rejoin(bench); err != nil {
			return err
		}
		if found {
			return nil // no fewer: the most exact ones stay
		}
	}
	if !j.Spec.FewUnsaid {
		b.manyValues = why
	}
	return nil
}

// chosenValues is what DistinctValues counts, of a board whose parts have no references yet.
func (b *Board) chosenValues() int {
	seen := map[float64]bool{}
	for _, c := range b.Chains() {
		for _, s := range c.Built() {
			for _, v := range s.Fitted() {
				seen[v] = true
			}
		}
	}
	return len(seen)
}

// Reduced reports whether few different values were looked for and found, and how many there were
// before: the most exact ones.
func (b *Board) Reduced() (exact int, ok bool) { return b.exactValues, b.exactValues > 0 }

// Exact is the job without a search for few values, with what is said of that where the spec asks for them.
func (j Job) Exact(why string) Job {
	j.FewDB, j.FewSumDB = 0, 0
	if !j.Spec.FewUnsaid {
		j.Exactly = why
	}
	return j
}

// wished is what few values were asked to be within (dB).
func (j *Job) wished() float64 {
	if j.Spec.FewDB > 0 {
		return j.Spec.FewDB
	}
	return words.Round(j.FewDB, 3)
}

// boundValues says which promises allow less than the wish for few values, "" for none.
func (j *Job) boundValues() string {
	var by []string
	for _, x := range [...]struct {
		promise string
		db      float64
	}{{"promise.board-magnitude", j.FewDB}, {"promise.sum", j.FewSumDB}} {
		if x.db < j.Spec.FewDB {
			by = append(by, fmt.Sprintf("`%s` of %s dB binds", x.promise, words.Exact(x.db)))
		}
	}
	if by == nil {
		return ""
	}
	return words.Exact(j.Spec.FewDB) + " dB wished, but " + strings.Join(by, ", and ")
}

// goals are what errors may use up: of every way, of the sum (dB), and of phase (rad).
type goals struct{ wayDB, sumDB, phaseRad float64 }

// few is what few values may use up, and all is what is promised.
func (j *Job) few() goals { return goals{j.FewDB, j.FewSumDB, j.FewPhaseRad} }
func (j *Job) all() goals { return goals{j.LimitDB, j.SumLimitDB, j.PhaseRad} }

// notAskedDB (dB) is more than any error of a sum that stands for nothing that is promised.
const notAskedDB = 1e3

// held is what the parts of a held board are changed for: what is promised, and of a sum that
// nothing is promised of nothing.
func (j *Job) held() goals {
	g := j.all()
	if j.SumOff {
		g.sumDB = notAskedDB
	}
	return g
}

// foreseen is the largest error (dB) of any way and of any sum of neighbours, from the
// stages by themselves, in all combinations that are looked at.
func (b *Board) foreseen(j Job, bench *stage.Bench, to goals) (way, sum float64, err error) {
	_, p := b.whole(j, bench, to, finePerOctave)
	plan, err := values.Each(p)
	way, sum = plan.Worst()
	return way, sum, err
}

// whole is the board with the values that it has, with all that they are judged by as
// one problem.
func (b *Board) whole(j Job, bench *stage.Bench, to goals, perOctave int) (*judged, values.Problem) {
	v := b.judged(j, bench, to.wayDB, to.phaseRad)
	v.look(v.withEdges(v.grid(perOctave)))
	p := v.problem()
	for way := range b.Ways {
		v.add(&p, way)
	}
	return v, p
}

// withEdges adds the frequencies where a way ceases to count, as far down as that is,
// to ascending ones (Hz): there its error is often the largest, with as little to be
// heard.
func (v *judged) withEdges(hz []float64) []float64 {
	const (
		inside = 1e-3 // of a decibel
		apart  = 5e-3 // relative
	)
	var edges []float64
	h, db := make([]complex128, len(hz)), make([]float64, len(hz))
	for way := range v.board.Ways {
		path := v.job.System.Path(way)
		each(biquad.Axes(path), v.job.Choices, func(c biquad.Combination) {
			biquad.AnalogAt(h, path, c, hz)
			for i := range h {
				db[i] = biquad.DB(h[i])
			}
			floor := slices.Max(db) - downDB + inside
			for i := 1; i < len(db); i++ {
				if (db[i-1] < floor) != (db[i] < floor) && !math.IsInf(db[i-1]+db[i], 0) {
					x := (floor - db[i-1]) / (db[i] - db[i-1])
					edges = append(edges, hz[i-1]*math.Exp2(x*math.Log2(hz[i]/hz[i-1])))
				}
			}
		})
	}
	return biquad.Ascending(append(hz, biquad.Ascending(edges, apart)...), 0)
}

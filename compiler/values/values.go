// Package values chooses the values of all stages of a board together: what stage
// knows of candidates becomes the tables of package assign, and its picks candidates
// again. Joint makes the errors of stages cancel, Few does so with as few different
// values as it finds, FindClosest with as few parts unlike those of a board that stands,
// and Each takes the most exact candidate of each stage.
//
// It stands between stage and board, so that a choice of values can be tried without
// a board: stages and paths are all that it asks for.
//
// Read first: Problem, Joint, Few, FindClosest.
package values

import (
	"errors"
	"math"

	"bandwright/compiler/assign"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

// Problem is a board whose values are chosen together.
type Problem struct {
	// At are the frequencies at which errors are looked at, best in the order of
	// stage.CoarseToFine, with what is known of candidates there.
	At *stage.Realised
	// Stages are the candidates of each position of the board, all of one topology
	// and section.
	Stages [][]stage.Candidate
	Paths  []assign.Path
	Sums   []assign.Sum
	// Shared are stages that have values in common, and InUse values that other parts have, as
	// stage.Candidate.Fitted has them. Only Few asks for them.
	Shared []Shared
	InUse  []float64
	DownDB float64 // as in assign.Problem
	// Proven has FindClosest look no further than ProvenParts.
	Proven bool
	// Idle, where not nil, may say that the plan is of no use any more: what comes
	// then is no plan to use, or an error.
	Idle func() bool
}

// Shared are the states of a stage that a selector switches: all have the same parts.
type Shared struct {
	Stages []int // indices into Problem.Stages
	// Places are those of the parts that the states are about, nil for all.
	Places []int
	// OwnDB (dB) is how far off a state may be by itself where it is not further with the values
	// that it has.
	OwnDB float64
	// Sets lists sets of values of all parts in a bench's stock, about n of them, those with the
	// smallest errors. Nil: the values stay.
	Sets func(b *stage.Bench, n int) [][]float64
}

// errUseless ends a choice that nobody waits for.
var errUseless = errors.New("the choice is of no use any more")

func (p *Problem) useless() bool { return p.Idle != nil && p.Idle() }

// Plan is a candidate for every stage, with the largest error (dB) of each path and
// of each sum with the real op-amp, as in assign.Plan.
type Plan struct {
	Candidates    []stage.Candidate
	PathDB, SumDB []float64
}

// pointDB is how much error (dB) of a way is worth a point of the score that
// is not error: cancelling errors shall not be bought with noise.
const pointDB = 0.005

// Distinct counts the different resistor and capacitor values of a plan.
func (p *Plan) Distinct() (resistors, capacitors int) {
	seen := map[float64]bool{}
	for _, c := range p.Candidates {
		for _, v := range c.Fitted() {
			switch {
			case seen[v]:
			case v < 0:
				capacitors++
			default:
				resistors++
			}
			seen[v] = true
		}
	}
	return resistors, capacitors
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

// Each is the plan that takes the candidate with the smallest error for each stage
// on its own, for comparison.
func Each(p Problem) (Plan, error) { return p.solve(assign.Evaluate) }

// Joint chooses the values of all stages together.
func Joint(p Problem) (Plan, error) { return p.solve(assign.Search) }

// solve is the plan of a way to choose that begins with the most exact candidates.
func (p *Problem) solve(how func(assign.Problem, []int) (assign.Plan, error)) (Plan, error) {
	q, err := p.tables()
	if err != nil {
		return Plan{}, err
	}
	first := make([]int, len(p.Stages))
	for i, list := range p.Stages {
		first[i] = stage.MostExact(list)
	}
	plan, err := how(q, first)
	return chosen(p.Stages, plan), err
}

// tables tabulates the candidates with the real op-amp.
func (p *Problem) tables() (assign.Problem, error) {
	q := p.blank(pointDB)
	err := parallel.Try(len(p.Stages), func(i int) error {
		if p.useless() {
			return errUseless
		}
		return p.At.Errors(p.Stages[i], tabulate(&q.Tables[i], p.Stages[i], (*stage.Candidate).Points))
	})
	return q, err
}

// blank is the problem with tables that are yet to be filled.
func (p *Problem) blank(pointDB float64) assign.Problem {
	return assign.Problem{Frequencies: len(p.At.Hz), Tables: make([]assign.Table, len(p.Stages)), Paths: p.Paths, Sums: p.Sums,
		DownDB: p.DownDB, PointDB: pointDB, Idle: p.Idle}
}

// tabulate enters candidates with their points into a table, and returns what enters
// their errors.
func tabulate(t *assign.Table, list []stage.Candidate, points func(*stage.Candidate) float64) func(i int, db, rad []float64) {
	t.Choices, t.Points = make([]assign.Errors, len(list)), make([]float64, len(list))
	for i := range list {
		t.Points[i] = points(&list[i])
	}
	return func(i int, db, rad []float64) { t.Choices[i] = assign.Errors{DB: db, Rad: rad} }
}

// chosen is a plan of candidates.
func chosen(stages [][]stage.Candidate, plan assign.Plan) Plan {
	out := Plan{PathDB: plan.PathDB, SumDB: plan.SumDB}
	for i, k := range plan.Pick {
		out.Candidates = append(out.Candidates, stages[i][k])
	}
	return out
}

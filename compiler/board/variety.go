package board

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/stage"
	"bandwright/compiler/values"
)

// variety is what few values may choose of a switched stage: sets of values of all of its parts in
// another stock, like those that it has. Where places is not nil only those parts change, and the
// choice is about one state; sets is nil where none does.
type variety struct {
	sets   func(b *stage.Bench, like []float64, n int) [][]float64
	places []int
}

// summedVariety is that of the state of a switched-sum that adds its i-th section: the sum's two
// resistors stay, which are all that the flat state has.
func summedVariety(sections []biquad.Analog, i, parts int) *variety {
	ra, rf := parts-2, parts-1
	if i == len(sections) {
		return &variety{places: []int{ra, rf}}
	}
	v := &variety{sets: func(b *stage.Bench, like []float64, n int) [][]float64 { return b.SummedSets(sections, i, like, n) }}
	for _, at := range circuit.SummedParts(sections, i) {
		if at != ra && at != rf {
			v.places = append(v.places, at)
		}
	}
	return v
}

// varied enters what few values are looked for among of switched stages, and the values of parts
// that stand, into a problem of all stages.
func (v *judged) varied(p *values.Problem) {
	for _, c := range v.board.Chains() {
		for _, s := range c.Built() {
			if s.Role == InputStage {
				p.InUse = append(p.InUse, s.Fitted()...)
			}
		}
	}
	groups := map[any]int{}
	for i, s := range v.stages {
		if s.Body == nil {
			continue
		}
		var of any = s.Body
		x := s.Body.variety
		if s.variety != nil {
			of, x = s.variety, s.variety
		}
		n, known := groups[of]
		if !known {
			n = len(p.Shared)
			groups[of] = n
			shared := x.shared(s.Values)
			shared.OwnDB = v.job.stateDB()
			p.Shared = append(p.Shared, shared)
		}
		p.Shared[n].Stages = append(p.Shared[n].Stages, i)
	}
}

// stateShare is the share of switchedShare that few values leave to states of switched stages where
// they leave room for edits: what is above switchedShare after an edit is chosen anew.
const stateShare = 0.7

// stateDB is how far off (dB) a state of a switched stage may be by itself with few values.
func (j *Job) stateDB() float64 {
	if j.FewRoom {
		return stateShare * switchedShare * j.LimitDB
	}
	return math.Inf(1)
}

// shared is what a choice of values asks about the states of a stage that has these values.
func (x *variety) shared(like []float64) (out values.Shared) {
	if x == nil {
		return out
	}
	if out.Places = x.places; x.sets != nil {
		out.Sets = func(b *stage.Bench, n int) [][]float64 { return x.sets(b, like, n) }
	}
	return out
}

// rejoin gives the states of switched stages, and the stages themselves, the values that have been
// chosen for any of them.
func (b *Board) rejoin(bench *stage.Bench) error {
	for _, c := range b.Chains() {
		for i := range c.Positions {
			body := c.Positions[i].Switched()
			if body == nil {
				continue
			}
			var states []*Stage
			for _, s := range c.Positions[i].Stages() {
				if s.Body == body {
					states = append(states, s)
				}
			}
			body.Values, body.RealDB = slices.Clone(states[0].Values), 0
			for _, s := range states {
				if s.variety != nil {
					for _, at := range s.variety.places {
						body.Values[at] = s.Values[at]
					}
				}
			}
			for _, s := range states {
				one := []stage.Candidate{s.Candidate}
				one[0].Values = slices.Clone(body.Values)
				if err := bench.Measure(one); err != nil {
					return err
				}
				s.Candidate = one[0]
				body.RealDB = max(body.RealDB, s.RealDB)
			}
		}
	}
	return nil
}

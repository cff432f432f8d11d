package values

import (
	"slices"

	"bandwright/compiler/stage"
)

// shared is, for each stage, what it has values in common with, nil for one by itself.
func (p *Problem) shared() []*Shared {
	out := make([]*Shared, len(p.Stages))
	for i := range p.Shared {
		for _, s := range p.Shared[i].Stages {
			out[s] = &p.Shared[i]
		}
	}
	return out
}

// follows is, for each stage, the one whose choice it has.
func (p *Problem) follows() []int {
	out := make([]int, len(p.Stages))
	for s, x := range p.shared() {
		if out[s] = s; x != nil {
			out[s] = x.Stages[0]
		}
	}
	return out
}

// fitted are the values of a candidate of a stage that are its own, as stage.Candidate.Fitted
// has them.
func (p *Problem) fitted(s int, c stage.Candidate) []float64 {
	for _, x := range p.Shared {
		if x.Places != nil && slices.Contains(x.Stages, s) {
			values := make([]float64, len(c.Values))
			for _, at := range x.Places {
				values[at] = c.Values[at]
			}
			c.Values = values
		}
	}
	return c.Fitted()
}

// pool lists the candidates of all states in the same order: sets of values of two stocks with
// which no state is much worse than it was first.
func (x *Shared) pool(out [][]stage.Candidate, from, first Plan, thin, own *stage.Bench, share float64) error {
	was := from.Candidates[x.Stages[0]].Values
	sets := [][]float64{was}
	if x.Sets != nil {
		sets = append(sets, slices.Concat(x.Sets(thin, int(share*poolOfValues)), x.Sets(own, int(share*poolOfOwn)))...)
	}
	slices.SortFunc(sets[1:], slices.Compare)
	sets = append(sets[:1], slices.DeleteFunc(slices.CompactFunc(sets[1:], slices.Equal), func(y []float64) bool { return slices.Equal(y, was) })...)
	fits := slices.Repeat([]bool{true}, len(sets))
	lists := make([][]stage.Candidate, len(x.Stages))
	for k, s := range x.Stages {
		lists[k] = thin.Varied(from.Candidates[s], sets)
		near, err := bounded(thin, lists[k][1:], first.Candidates[s])
		if err != nil {
			return err
		}
		for i := 1; i < len(sets); i++ { // in the order of the sets
			if len(near) > 0 && slices.Equal(near[0].Values, sets[i]) {
				near = near[1:]
			} else {
				fits[i] = false
			}
		}
	}
	for k, s := range x.Stages {
		for i, c := range lists[k] {
			if fits[i] {
				out[s] = append(out[s], c)
			}
		}
	}
	return nil
}

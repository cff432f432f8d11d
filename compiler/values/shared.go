package values

import (
	"encoding/binary"
	"math"
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
// which no state is much worse than it was first, and those of plans that are known.
func (x *Shared) pool(out [][]stage.Candidate, from sources, first Plan) error {
	var sets [][]float64
	for _, plan := range from.known {
		sets = append(sets, plan.Candidates[x.Stages[0]].Values)
	}
	if known := len(sets); x.Sets != nil {
		sets = slices.Concat(sets, x.Sets(from.own, from.ofOwn), x.Sets(from.thin, from.ofThin))
		slices.SortFunc(sets[known:], slices.Compare)
	}
	sets = once(sets)
	fits := slices.Repeat([]bool{true}, len(sets))
	lists := make([][]stage.Candidate, len(x.Stages))
	for k, s := range x.Stages {
		lists[k] = from.own.Varied(first.Candidates[s], sets)
		most := math.Max(x.OwnDB, first.Candidates[s].ErrorDB)
		near := slices.DeleteFunc(slices.Clone(lists[k][1:]), func(c stage.Candidate) bool { return c.ErrorDB > most })
		near, err := bounded(from.own, near, first.Candidates[s])
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

// once are sets of values each the first time that it comes.
func once(sets [][]float64) [][]float64 {
	known := map[string]bool{}
	return slices.DeleteFunc(sets, func(v []float64) bool {
		var key []byte
		for _, x := range v {
			key = binary.LittleEndian.AppendUint64(key, math.Float64bits(x))
		}
		was := known[string(key)]
		known[string(key)] = true
		return was
	})
}

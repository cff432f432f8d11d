package board

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/parts"
	"bandwright/compiler/words"
)

// betweenShare is the share of the wish that few values may use up at the
// frequencies and in the settings looked at: true maxima lie between them.
const betweenShare = 0.97

// fewValues replaces the chosen values by as few different ones as are found with
// every way and the sum of every pair of neighbours within the wish and the
// promises, in all combinations of settings. Where the chosen values are not
// within it themselves they stay, and a caution says so.
func (b *Board) fewValues(j Job, bench *parts.Bench) error {
	v := b.values(j)
	v.limitDB = math.Min(j.LimitDB, j.Spec.FewDB)
	if len(v.stages) == 0 {
		return nil
	}
	p := parts.Problem{Hz: v.hz, DownDB: downDB}
	for _, s := range v.stages {
		// The levels that paths are made for are those of the choice.
		v.lists = append(v.lists, []parts.Choice{s.Choice})
		p.Stages = append(p.Stages, parts.Stage{Candidates: []parts.Choice{s.Choice}})
	}
	v.ask()
	made, sums := map[string]int{}, map[[2]int]bool{}
	for way := range b.Ways {
		below := max(way-1, 0)
		each(biquad.Axes(j.System.Path(way), j.System.Path(below)), j.Choices, func(c biquad.Combination) {
			pair := [2]int{v.add(&p, made, way, c), v.add(&p, made, below, c)}
			if below != way && !sums[pair] {
				sums[pair] = true
				p.Sums = append(p.Sums, parts.Sum{Pair: below, Paths: pair[:]})
			}
		})
	}
	from, err := bench.Each(p)
	if err != nil {
		return err
	}
	limit := betweenShare * j.Spec.FewDB
	plan, kept, err := bench.Consolidate(p, from, math.Min(limit, betweenShare*j.LimitDB), math.Min(limit, betweenShare*j.SumLimitDB))
	if err != nil {
		return err
	}
	for i, s := range v.stages {
		// Another polarity is not what the way was laid out for.
		kept = kept && s.Level*plan.Choices[i].Level >= 0
	}
	if !kept {
		b.Cautions = append(b.Cautions, "`board.few-values` is not granted: the board's values are not all within "+words.Exact(j.Spec.FewDB)+" dB"+
			" of the prototype, or of a tighter promise, to begin with; allow more, or take it out")
		return nil
	}
	for i, s := range v.stages {
		s.Choice = plan.Choices[i]
	}
	return nil
}

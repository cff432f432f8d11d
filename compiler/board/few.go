package board

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/parts"
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
func (b *Board) fewValues(j Job, bench *parts.Bench) error {
	v, p := b.whole(j, perOctave)
	if len(v.stages) == 0 {
		return nil
	}
	from, err := bench.Each(p)
	if err != nil {
		return err
	}
	why := "the board's values are not all within " + words.Exact(j.Spec.FewDB) + " dB of the prototype, or of a tighter promise, to begin with"
	for _, share := range betweenShares {
		plan, kept, err := bench.Consolidate(p, from, share*j.FewDB, share*j.FewSumDB)
		if err != nil {
			return err
		}
		for i, s := range v.stages {
			// Another polarity is not what the way was laid out for.
			kept = kept && s.Level*plan.Choices[i].Level >= 0
		}
		if !kept {
			break
		}
		why = "the fewer values that were found miss " + words.Exact(j.Spec.FewDB) + " dB, or a tighter promise, between the frequencies that they were looked for at"
		was := make([]parts.Choice, len(v.stages))
		for i, s := range v.stages {
			was[i], s.Choice = s.Choice, plan.Choices[i]
		}
		_, fine := b.whole(j, finePerOctave)
		plan, err = bench.Each(fine)
		if err != nil {
			return err
		}
		if path, sum := plan.Worst(); path <= j.FewDB && sum <= j.FewSumDB {
			return nil
		}
		for i, s := range v.stages {
			s.Choice = was[i]
		}
	}
	b.Cautions = append(b.Cautions, "`board.few-values` is not granted: "+why+"; allow more, or take it out")
	return nil
}

// whole is the choice of the board's values under way, with all that they are judged
// by as one problem: the stages as they are, and all ways and sums of neighbours in
// all combinations that are looked at.
func (b *Board) whole(j Job, perOctave int) (*values, parts.Problem) {
	v := b.values(j, perOctave)
	v.limitDB, v.phaseRad = j.FewDB, j.FewPhaseRad
	v.addEdges()
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
	return v, p
}

// addEdges adds the frequencies where a way ceases to count, as far down as that is:
// there its error is often the largest, with as little to be heard.
func (v *values) addEdges() {
	const (
		inside = 1e-3 // of a decibel
		apart  = 1.005
	)
	var edges []float64
	for way := range v.board.Ways {
		each(biquad.Axes(v.job.System.Path(way)), v.job.Choices, func(c biquad.Combination) {
			var db []float64
			for _, h := range v.wanted(way, c) {
				db = append(db, biquad.DB(h))
			}
			floor := slices.Max(db) - downDB + inside
			for i := 1; i < len(db); i++ {
				if (db[i-1] < floor) != (db[i] < floor) && !math.IsInf(db[i-1]+db[i], 0) {
					x := (floor - db[i-1]) / (db[i] - db[i-1])
					edges = append(edges, v.hz[i-1]*math.Exp2(x*math.Log2(v.hz[i]/v.hz[i-1])))
				}
			}
		})
	}
	slices.Sort(edges)
	last := 0.0
	for _, f := range edges {
		if f > last*apart {
			v.hz, last = append(v.hz, f), f
		}
	}
	slices.Sort(v.hz)
	v.hz = slices.Compact(v.hz)
	clear(v.wants)
}

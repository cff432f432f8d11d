package production

import (
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

// mostCombinations is up to how many combinations of a way are tested in all of them.
const mostCombinations = 4

// combinations are the ways with the combinations that they are tested in: all where
// there are few; otherwise the default, each choice by itself, the loudest and the
// quietest, and further ones until every stage has been in use.
func combinations(subject *verify.Subject, b *board.Board, sim *batch.Simulator) []*tested {
	var out []*tested
	u := sim.Unit()
	cases := subject.Cases()
	for way := range subject.Ways {
		var all []*tested
		for _, c := range cases {
			if c.Way == way && c.C != nil {
				v := sim.Variant(way, c.C)
				all = append(all, &tested{way: way, variant: v, c: c.C, nominal: slices.Clone(u.Way(way, v))})
			}
		}
		if len(all) > mostCombinations {
			all = telling(all, b)
		}
		out = append(out, all...)
	}
	return out
}

// telling picks some of many combinations, in their order.
func telling(all []*tested, b *board.Board) []*tested {
	level := func(x *tested) (db float64) {
		for _, h := range x.nominal {
			db += biquad.DB(h)
		}
		return db
	}
	loudest, quietest := 0, 0
	for i, x := range all {
		if level(x) > level(all[loudest]) {
			loudest = i
		}
		if level(x) < level(all[quietest]) {
			quietest = i
		}
	}
	used := map[*board.Stage]bool{}
	take := make([]bool, len(all))
	for i, x := range all {
		if take[i] = changed(x.c) <= 1 || i == loudest || i == quietest; take[i] {
			for _, s := range passed(b, x) {
				used[s] = true
			}
		}
	}
	var out []*tested
	for i, x := range all {
		for _, s := range passed(b, x) {
			take[i] = take[i] || !used[s]
			used[s] = used[s] || take[i]
		}
		if take[i] {
			out = append(out, x)
		}
	}
	return out
}

// changed counts the settings that are not at their default.
func changed(c verify.Combination) (n int) {
	for _, v := range c {
		if v != 0 {
			n++
		}
	}
	return n
}

// passed are the stages that signal passes on its way.
func passed(b *board.Board, x *tested) []*board.Stage {
	var out []*board.Stage
	for _, chain := range []*board.Chain{&b.Common, &b.Ways[x.way].Chain} {
		for i := range chain.Positions {
			p := &chain.Positions[i]
			out = append(out, p.Alt[p.Index(x.c)].Stages...)
		}
	}
	return out
}

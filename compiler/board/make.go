package board

import (
	"fmt"
	"slices"

	"bandwright/compiler/stage"
)

// mostStages is how many stages a block may have: references hold two digits.
const mostStages = 99

// downDB is how far below its peak a board's response counts (dB), where values
// are chosen and where it is judged: what lies lower hangs on the op-amp and on
// strays more than on parts.
const downDB = 40.0

// Make lays out the chain, chooses topologies and values, and wires the board.
// Problems come without a board.
func Make(j Job) (*Board, []Problem) {
	b := &Board{Spec: j.Spec, OpAmp: j.Means.OpAmp, LowHz: j.LowHz / 2, bandHz: [2]float64{j.LowHz, j.HighHz}}
	bench := benchOf(j)
	if problems := b.chooseStages(j, bench); len(problems) > 0 {
		return nil, problems
	}
	if err := b.chooseValues(j, bench); err != nil {
		return nil, []Problem{{Message: "no values for the board's stages: " + err.Error(), Right: "widen the stock's ranges, or leave `board` out"}}
	}
	if j.Spec.FewDB > 0 {
		if err := b.fewValues(j, bench); err != nil {
			return nil, []Problem{{Message: "no few values for the board's stages: " + err.Error(), Right: "leave `few-values` out"}}
		}
	}
	var problems []Problem
	for _, chain := range b.Chains() {
		b.refer(chain)
		if n := len(chain.Stages()); n > mostStages {
			problems = append(problems, Problem{Message: fmt.Sprintf("a board has at most %d stages before the ways split, and in each way; this one has %d", mostStages, n),
				Right: "lower the filters' orders, or leave `board` out"})
		}
	}
	if len(problems) > 0 {
		return nil, problems
	}
	if err := b.wire(); err != nil {
		return nil, []Problem{{Message: "the board's equations cannot be solved: " + err.Error(), Right: "widen the stock's ranges, or leave `board` out"}}
	}
	b.caution(j)
	return b, nil
}

// chooseStages lays out the chains with topologies, levels and polarity.
func (b *Board) chooseStages(j Job, bench *stage.Bench) []Problem {
	chains, gains, problems := b.chains(j)
	if len(problems) > 0 {
		return problems
	}
	c := &chooser{bench: bench, wishes: j.Wishes}
	c.lookAhead(chains)
	laid := make([][]layout, len(chains))
	for k, ws := range chains {
		for _, w := range ws {
			l, problem := c.lay(w)
			if problem != nil {
				problems = append(problems, *problem)
			}
			laid[k] = append(laid[k], l)
		}
	}
	if problems = append(problems, c.idleWishes(j.System)...); len(problems) > 0 {
		return once(problems)
	}
	input := b.input(j)
	done := cheapest(laid[0], len(b.Ways), func(way int, level float64) finished {
		return c.finish(laid[way+1], b.Ways[way].Name, gains[way]/(level*input.level*b.outputLevel()))
	})
	if done == nil {
		return []Problem{{Message: "no order of stages gives every way its level and polarity with the board's stock",
			Right: "widen `resistors`, or leave `board` out"}}
	}
	b.place(j, input, done)
	return nil
}

// once drops problems that repeat one before them.
func once(all []Problem) []Problem {
	var out []Problem
	for _, p := range all {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

package board

import (
	"context"
	"fmt"
	"math"
	"slices"

	"bandwright/compiler/progress"
	"bandwright/compiler/stage"
)

// mostStages is how many stages a block may have: references hold two digits.
const mostStages = 99

// downDB is how far below its peak a board's response counts (dB), where values
// are chosen and where it is judged: what lies lower hangs on the op-amp and on
// strays more than on parts.
const downDB = 40.0

// Make lays out the chain, chooses topologies and values, and wires the board.
// Obstacles come without a board. Where ctx is cancelled neither is of use.
func Make(ctx context.Context, j Job) (*Board, []Obstacle) {
	if j.Planner == nil {
		j.Planner = NewPlanner(j)
	}
	b := begun(j)
	b.planner = j.Planner
	bench := j.Planner.bench
	progress.Say(ctx, "choosing the stages of the board")
	kept, obstacles := b.chooseStages(ctx, j, bench)
	if len(obstacles) > 0 || ctx.Err() != nil {
		return nil, obstacles
	}
	b.manyValues = j.Exactly
	b.recall(j)
	if err := b.chooseValues(ctx, j, bench); err != nil {
		return nil, []Obstacle{{Message: "no values for the board's stages: " + err.Error(), Right: "widen the stock's ranges"}}
	}
	var off []float64
	if b.keeps() {
		var err error
		off, err = b.settle(ctx, j, bench)
		if again := b.unsettled(j); err == nil && again != nil {
			j.drop = again
			return Make(ctx, j)
		}
		if err != nil {
			return nil, []Obstacle{{Message: "no values for the stages of the held board: " + err.Error(), Right: "choose them anew: `bandwright hold SPEC --anew`"}}
		}
	} else if j.FewDB > 0 {
		switch err := b.fewValues(ctx, j, bench); {
		case err != nil && j.Spec.FewUnsaid && ctx.Err() == nil:
			return Make(ctx, j.Exact("")) // nobody asked for few
		case err != nil:
			return nil, []Obstacle{{Message: "no reduced set of values for the board's stages: " + err.Error(), Right: "write `few-values: off`"}}
		}
	}
	if ctx.Err() != nil {
		return nil, nil
	}
	for _, chain := range b.Chains() {
		b.refer(chain)
		if n := len(chain.Built()); n > mostStages {
			obstacles = append(obstacles, Obstacle{Message: fmt.Sprintf("a board has at most %d stages before the ways split, and in each way; this one has %d", mostStages, n),
				Right: "lower the filters' orders"})
		}
	}
	if len(obstacles) > 0 {
		return nil, obstacles
	}
	b.Supply = b.supply()
	if err := b.wire(); err != nil {
		return nil, []Obstacle{{Message: "the board's equations cannot be solved: " + err.Error(), Right: "widen the stock's ranges"}}
	}
	b.Cautions = b.cautions(j)
	if j.Held != nil {
		b.Kept = b.became(j, kept, off)
		b.Kept.ByHand = b.byHand(j)
	}
	return b, nil
}

// begun is a board without stages.
func begun(j Job) *Board {
	b := &Board{Spec: j.Spec, OpAmp: j.Means.OpAmp, LowHz: j.LowHz / 2, bandHz: [2]float64{j.LowHz, j.HighHz}}
	b.restOhm = j.rest()
	b.trim = j.trimmerOf(j.Spec.TrimDB, b.buildOutOhm()+b.loadOhm())
	return b
}

// chooseStages lays out the chains with topologies, levels and polarity; where ctx is
// cancelled it leaves it.
func (b *Board) chooseStages(ctx context.Context, j Job, bench *stage.Bench) ([]*keptChain, []Obstacle) {
	chains, gains, obstacles := b.chains(j)
	if len(obstacles) > 0 {
		return nil, obstacles
	}
	b.lookBehind(chains, gains)
	input := b.input(j)
	c := &chooser{bench: bench, wishes: j.Wishes, says: j.says, drop: j.drop, limitDB: j.LimitDB, lost: j.lost}
	b.peakV = math.Sqrt2 * j.Spec.Input.Level.In(nil) * input.level
	kept := j.keep(chains, b.Ways)
	if c.lookAhead(ctx, chains, kept); ctx.Err() != nil {
		return nil, nil
	}
	laid := make([][]layout, len(chains))
	for k, ws := range chains {
		for i, w := range ws {
			l, obstacle := c.before(w.behind).layIn(w, kept[k].of(i))
			if obstacle != nil {
				obstacles = append(obstacles, *obstacle)
			}
			laid[k] = append(laid[k], l)
		}
	}
	if obstacles = append(obstacles, c.idleWishes(j.System)...); len(obstacles) > 0 {
		return nil, once(obstacles)
	}
	if input.obstacle != nil {
		return nil, []Obstacle{*input.obstacle}
	}
	done := cheapest(laid[0], len(b.Ways), func(way int, level float64) finished {
		name, left := b.Ways[way].Name, gains[way]/(level*input.level*b.outputLevel())
		if k := kept[way+1]; k != nil {
			return c.finishKept(laid[way+1], name, left, k, j.LimitDB)
		}
		return c.finish(laid[way+1], name, left)
	})
	if done == nil {
		return nil, []Obstacle{{Message: "no stage order gives every way its gain and polarity with the board's stock",
			Right: "widen `resistors`"}}
	}
	b.place(j, input, done, kept)
	return kept, nil
}

// once drops obstacles that repeat one before them.
func once(all []Obstacle) []Obstacle {
	var out []Obstacle
	for _, p := range all {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

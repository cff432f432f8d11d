package board

import (
	"fmt"
	"math"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/parallel"
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
	b := &Board{Spec: j.Spec, OpAmp: j.Means.OpAmp, LowHz: j.LowHz / 2, Choices: j.Choices}
	c := &chooser{bench: benchOf(j), wishes: j.Wishes}

	common, commonGain, problems := wants(j.System.Common)
	inOrder(common)
	least := math.Inf(1)
	for _, w := range j.System.Ways {
		least = math.Min(least, w.DelayS)
	}
	b.DelayS = 0 - (j.System.Common.DelayS + least) // 0 - 0 is not -0
	ways := make([][]want, len(j.System.Ways))
	gains := make([]float64, len(j.System.Ways))
	for k, w := range j.System.Ways {
		own, g, more := wants(w.Cascade)
		late, problem := delays(w.Name, w.DelayS-least, j.DelayToHz[k], j.DelayRad)
		if problem != nil {
			more = append(more, *problem)
		}
		problems = append(problems, more...)
		ways[k] = append(own, late...)
		inOrder(ways[k])
		gains[k] = g * w.Polarity * commonGain
		b.Ways = append(b.Ways, Way{Name: w.Name})
		if len(late) > 0 {
			b.Ways[k].DelayS = w.DelayS - least
		}
	}
	if len(problems) == 0 {
		problems = tooMany(append([][]want{common}, ways...))
	}
	if len(problems) > 0 {
		return nil, problems
	}
	c.lookAhead(append([][]want{common}, ways...))

	layAll := func(ws []want) []layout {
		var out []layout
		for _, w := range ws {
			l, problem := c.lay(w)
			if problem != nil {
				problems = append(problems, *problem)
			}
			out = append(out, l)
		}
		return out
	}
	commonLaid := layAll(common)
	waysLaid := make([][]layout, len(ways))
	for k := range ways {
		waysLaid[k] = layAll(ways[k])
	}
	problems = append(problems, c.idleWishes(j)...)
	if len(problems) > 0 {
		return nil, once(problems)
	}

	input := b.input(j)
	// Either polarity of the common stages, with what the ways then cost.
	var positions [][2]built
	for _, l := range commonLaid {
		positions = append(positions, l.one)
	}
	best, cost := -1, math.Inf(1)
	var chosen []laidChain
	chains := series(positions)
	finished := make([]laidChain, len(chains)*len(ways))
	parallel.Each(len(finished), func(i int) {
		if front, w := chains[i/len(ways)], i%len(ways); front.ok {
			finished[i] = c.finish(waysLaid[w], b.Ways[w].Name, gains[w]/(front.level*input.level*b.outputLevel()))
		}
	})
	for k, front := range chains {
		if !front.ok {
			continue
		}
		total := front.cost
		picked := finished[k*len(ways) : (k+1)*len(ways)]
		for _, x := range picked {
			if !x.ok {
				total = math.Inf(1)
				break
			}
			total += x.cost
		}
		if total < cost {
			best, cost, chosen = k, total, picked
		}
	}
	if best < 0 {
		return nil, []Problem{{Message: "no order of stages gives every way its level and polarity with the board's stock",
			Right: "widen `resistors`, or leave `board` out"}}
	}
	b.assemble(j, input, laidChain{built: chains[best], alts: split(commonLaid, len(commonLaid), chains[best].signs, built{})}, commonLaid, chosen, waysLaid)
	if err := b.chooseValues(j, c.bench); err != nil {
		return nil, []Problem{{Message: "no values for the board's stages: " + err.Error(), Right: "widen the stock's ranges, or leave `board` out"}}
	}
	if j.Spec.FewDB > 0 {
		if err := b.fewValues(j, c.bench); err != nil {
			return nil, []Problem{{Message: "no few values for the board's stages: " + err.Error(), Right: "leave `few-values` out"}}
		}
	}
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

// lookAhead asks about every section once, on all processors.
func (c *chooser) lookAhead(chains [][]want) {
	var all []biquad.Analog
	var wish []*circuit.Topology
	seen := map[biquad.Analog]bool{}
	for _, ws := range chains {
		for _, w := range ws {
			for i, sections := range w.alts {
				t, _ := circuit.ByName(c.wishes[w.from[min(i, len(w.from)-1)]])
				for _, s := range sections {
					if !seen[s] {
						seen[s] = true
						all = append(all, s)
						wish = append(wish, t)
					}
				}
			}
		}
	}
	parallel.Each(len(all), func(i int) {
		c.known.of(all[i], func() []option { return c.survey(all[i], wish[i]) })
	})
}

// idleWishes are wishes that no section of their filter has the shape for.
func (c *chooser) idleWishes(j Job) []Problem {
	var out []Problem
	look := func(slots []biquad.Slot[biquad.Analog]) {
		for _, s := range slots {
			for i, from := range s.From {
				name := j.Wishes[from]
				t, ok := circuit.ByName(name)
				if !ok || i >= len(s.Alt) {
					continue
				}
				if c.suits(t, from, slots) {
					continue
				}
				out = append(out, Problem{From: from, Wish: true, Message: fmt.Sprintf("no `%s` can be %s", name, described(asked(s.Alt[i]), s.Alt[i])),
					Right: "leave `topology` out, or name one that applies: " + strings.Join(names(c.options(s.Alt[i])), ", ")})
			}
		}
	}
	look(j.System.Common.Slots)
	for _, w := range j.System.Ways {
		look(w.Slots)
	}
	return out
}

// suits reports whether a section of the filter has a shape of the topology.
func (c *chooser) suits(t *circuit.Topology, from string, slots []biquad.Slot[biquad.Analog]) bool {
	for _, s := range slots {
		for i, f := range s.From {
			if f != from || i >= len(s.Alt) {
				continue
			}
			parts, _ := circuit.Split(s.Alt[i])
			for _, p := range parts {
				if t.Can(asked(p).Shape) {
					return true
				}
			}
		}
	}
	return false
}

// once drops problems that repeat one before them.
func once(all []Problem) []Problem {
	var out []Problem
	seen := map[Problem]bool{}
	for _, p := range all {
		if !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	return out
}

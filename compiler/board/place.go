package board

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// place makes chains of what was chosen, with stages numbered and nodes named.
func (b *Board) place(j Job, in inputEnd, chosen []finished, kept []*keptChain) {
	input := &Stage{Role: InputStage, From: "input", Why: in.why}
	input.Candidate = stage.Candidate{Topology: in.topology, Section: biquad.Constant(1), Level: 1}
	input.Own = input.Section
	for range in.topology.Parts() {
		input.Values = append(input.Values, nearest(j.Spec.Resistors, usualOhm))
	}
	kept[0].input(j, input)
	first := Position{Slot: biquad.Fixed(Alternative{Stages: []*Stage{input}}, input.From)}
	b.Common = Chain{Block: 1, Ends: in.parts, Positions: append([]Position{first}, chosen[0].positions()...)}
	b.number(kept)
	for k := range b.Ways {
		b.Ways[k].Positions = chosen[k+1].positions()
	}
	b.nameSelectors(kept)
	b.Common.Out = b.name(&b.Common, in.node, kept[0])
	if in.topology.Balanced {
		input.InN = strings.TrimSuffix(input.In, "_p") + "_n"
	}
	for k := range b.Ways {
		w := &b.Ways[k]
		w.Out = "out_" + strings.ReplaceAll(w.Name, "-", "_")
		w.Ends = b.output(b.name(&w.Chain, b.Common.Out, kept[k+1]), w.Out)
	}
	for i, c := range b.Chains() {
		c.bleed(b.restOhm)
		fresh := slices.Clone(c.Ends)
		kept[i].ends(c)
		b.heldFilter(c, fresh)
	}
	if ohm, farad := b.rf(); farad > 0 {
		b.DelayS += ohm * farad // of all ways, far below the corner
	}
}

// number gives every way its block: 2 the first way, 3 the next, where no held board
// has it otherwise.
func (b *Board) number(kept []*keptChain) {
	taken := map[int]bool{1: true}
	for k := range b.Ways {
		if n := kept[k+1].blockNumber(); n > 0 {
			b.Ways[k].Block, taken[n] = n, true
		}
	}
	next := 2
	for k := range b.Ways {
		if b.Ways[k].Block > 0 {
			continue
		}
		for taken[next] {
			next++
		}
		b.Ways[k].Block, taken[next] = next, true
	}
}

// name numbers the stages of a chain and gives every node its name; the chain
// begins at node at. It returns the last node. Stages of a held board keep their
// numbers, and new ones take those behind the last that was in use.
func (b *Board) name(c *Chain, at string, kept *keptChain) string {
	c.In = at
	last := kept.lastNumber()
	for i := range c.Positions {
		p := &c.Positions[i]
		p.In = at
		for k := range p.Alt {
			a := &p.Alt[k]
			from := at
			for _, s := range a.Stages {
				if s.Body != nil {
					s.Number = s.Body.Number
				}
				if s.Number == 0 {
					last++
					s.Number = last
				}
				s.Block, s.In = c.Block, from
				s.Out = fmt.Sprintf("s%d%02d", c.Block, s.Number)
				from = s.Out
				if b := s.Body; b != nil {
					b.From, b.Block, b.Number, b.In, b.Out = p.lines(), s.Block, s.Number, s.In, s.Out
				}
			}
			a.Out = from
		}
		p.Out = p.Alt[0].Out
		if p.Selector != "" && p.Switched() == nil {
			p.Out = "p" + strings.ToLower(p.Selector[1:])
		}
		at = p.Out
	}
	return at
}

// lines are the lines of the spec that a switched position realises, each once.
func (p *Position) lines() string {
	var out []string
	for k, a := range p.Alt {
		if a.Stages[0].Role != GainStage && !slices.Contains(out, p.Line(k)) {
			out = append(out, p.Line(k))
		}
	}
	return strings.Join(out, ", ")
}

// bleed adds a resistor behind every selector of whole stages: what follows has a path for its
// bias current while a selector that breaks before it makes is between two positions. Every
// throw of it is an op-amp's output, so that it may not make before it breaks.
func (c *Chain) bleed(ohm float64) {
	for _, p := range c.Positions {
		if p.Selector != "" && p.Switched() == nil {
			c.Ends = append(c.Ends, Part{Use: Bleed, Of: p.Selector, Kind: netlist.Resistor, Value: ohm, A: p.Out, B: "0"})
		}
	}
}

package board

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// place makes chains of what was chosen, with stages numbered and nodes named.
func (b *Board) place(j Job, in inputEnd, chosen []finished) {
	input := &Stage{Role: InputStage, From: "input", Why: in.why}
	input.Candidate = stage.Candidate{Topology: in.topology, Section: biquad.Constant(1), Level: 1}
	for range in.topology.Parts() {
		input.Values = append(input.Values, nearest(j.Spec.Resistors, usualOhm))
	}
	first := Position{Slot: biquad.Fixed(Alternative{Stages: []*Stage{input}}, input.From)}
	b.Common = Chain{Block: 1, Ends: in.parts, Positions: append([]Position{first}, chosen[0].positions()...)}
	b.Common.Out = b.name(&b.Common, in.node)
	if in.topology.Balanced {
		input.InN = strings.TrimSuffix(input.In, "_p") + "_n"
	}
	for k := range b.Ways {
		w := &b.Ways[k]
		w.Block, w.Positions = k+2, chosen[k+1].positions()
		w.Out = "out_" + strings.ReplaceAll(w.Name, "-", "_")
		w.Ends = b.output(b.name(&w.Chain, b.Common.Out), w.Out)
	}
	for _, c := range b.Chains() {
		c.bleed()
	}
}

// name numbers the stages of a chain and gives every node its name; the chain
// begins at node at. It returns the last node.
func (b *Board) name(c *Chain, at string) string {
	c.In = at
	n := 0
	for i := range c.Positions {
		p := &c.Positions[i]
		p.In = at
		first := n + 1
		for k := range p.Alt {
			a := &p.Alt[k]
			from := at
			for _, s := range a.Stages {
				n++
				s.Block, s.Number, s.In = c.Block, n, from
				s.Out = fmt.Sprintf("s%d%02d", c.Block, n)
				from = s.Out
			}
			a.Out = from
		}
		p.Out = p.Alt[0].Out
		if len(p.By) > 0 {
			p.Out = fmt.Sprintf("p%d%02d", c.Block, first)
			p.Selector = fmt.Sprintf("S%d%02d", c.Block, first)
		}
		at = p.Out
	}
	return at
}

// bleedOhm is from each selector's pole to ground: what follows has a path for its
// bias current while a selector that breaks before it makes is between two
// positions. Common practice: far above what an op-amp drives, far below what its
// bias current turns into volts.
const bleedOhm = 100e3

// bleed adds a resistor behind every selector. Every throw is an op-amp's output,
// so that no selector may make before it breaks.
func (c *Chain) bleed() {
	for _, p := range c.Positions {
		if p.Selector != "" {
			c.Ends = append(c.Ends, Part{Use: Bleed, Kind: netlist.Resistor, Value: bleedOhm, A: p.Out, B: "0"})
		}
	}
}

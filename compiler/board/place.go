package board

import (
	"fmt"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// Package is one op-amp package of a block. Units are the references of its
// op-amps in use; the others are spare, followers with their input at ground.
type Package struct {
	Ref   string
	Units []string
	Spare []string
}

// place makes chains of what was chosen, with stages numbered and nodes named.
func (b *Board) place(j Job, in inputEnd, chosen []finished) {
	input := &Stage{Role: InputStage, From: "input", Why: in.why}
	input.Candidate = stage.Candidate{Topology: in.topology, Section: biquad.Constant(1), Level: 1}
	for range in.topology.Parts() {
		input.Ideal = append(input.Ideal, usualOhm)
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

// refer gives every part its reference: letter, block, stage and number, the
// last two with two digits; what belongs to no stage has stage 00. Op-amps are
// numbered by package inside their block, so that a change renames nothing in
// another block.
func (b *Board) refer(c *Chain) {
	count := map[netlist.Kind]int{}
	for i := range c.Ends {
		p := &c.Ends[i]
		count[p.Kind]++
		p.Ref = fmt.Sprintf("%s%d00%02d", letter(p.Kind), c.Block, count[p.Kind])
	}
	amps := 0
	per := b.Spec.OpAmp.PerPackage
	for _, s := range c.Stages() {
		number := map[netlist.Kind]int{}
		part := 0
		s.Refs = nil
		for _, e := range s.Topology.Template {
			if e.Kind == netlist.Amplifier {
				s.Refs = append(s.Refs, b.unit(c.Block, amps, per))
				amps++
				continue
			}
			number[e.Kind]++
			ref := fmt.Sprintf("%s%d%02d%02d", letter(e.Kind), s.Block, s.Number, number[e.Kind])
			if s.Values[part] == 0 {
				ref = ""
			}
			s.Refs = append(s.Refs, ref)
			part++
		}
	}
	for amps%per != 0 {
		p := &b.Packages[len(b.Packages)-1]
		p.Spare = append(p.Spare, unitName(p.Ref, amps%per, per))
		amps++
	}
}

// unit is the reference of op-amp n of a block.
func (b *Board) unit(block, n, per int) string {
	if n%per == 0 {
		b.Packages = append(b.Packages, Package{Ref: fmt.Sprintf("U%d%02d", block, n/per+1)})
	}
	p := &b.Packages[len(b.Packages)-1]
	u := unitName(p.Ref, n%per, per)
	p.Units = append(p.Units, u)
	return u
}

func unitName(ref string, k, per int) string {
	if per == 1 {
		return ref
	}
	return ref + string(rune('A'+k))
}

func letter(k netlist.Kind) string {
	if k == netlist.Capacitor {
		return "C"
	}
	return "R"
}

// circuitNames are a stage's own references and nodes on the board.
func circuitNames(refs map[string]string, s *Stage) circuit.Names {
	return circuit.Names{
		Ref: func(r string) string { return refs[r] },
		Node: func(n string) string {
			switch n {
			case "in":
				return s.In
			case "in_n":
				return s.InN
			case "out":
				return s.Out
			}
			return s.Out + "_" + n
		},
	}
}

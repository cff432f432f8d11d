package board

import (
	"fmt"

	"bandwright/compiler/netlist"
)

// Package is one op-amp package of a block. Units are the references of its
// op-amps in use; the others are spare, followers with their input at ground.
type Package struct {
	Ref   string
	Units []string
	Spare []string
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

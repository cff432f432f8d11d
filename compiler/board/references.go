package board

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"bandwright/compiler/netlist"
)

// Package is one op-amp package of a block. Units are the references of its
// op-amps in use; the others are spare, followers with their input at ground.
type Package struct {
	Ref   string
	Units []string
	Spare []string
}

// All lists the package's op-amps as they stand in it.
func (p Package) All() []string {
	all := slices.Concat(p.Units, p.Spare)
	slices.Sort(all)
	return all
}

// refer gives every part its reference: letter, block, stage and number, the
// last two with two digits; what belongs to no stage has stage 00. Op-amps are
// numbered by package inside their block, so that a change renames nothing in
// another block. What a held board names keeps its name, and what is new takes the
// next that is free.
func (b *Board) refer(c *Chain) {
	c.referEnds()
	amps := b.unitsOf(c)
	for _, s := range c.Built() {
		number := map[netlist.Kind]int{}
		part := 0
		s.Refs = nil
		for _, e := range s.Topology.Template {
			if e.Kind == netlist.Amplifier {
				s.Refs = append(s.Refs, amps.next(s))
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
	for _, s := range c.Stages() {
		if s.Body != nil {
			s.Refs = s.Body.Refs
		}
	}
	b.Packages = append(b.Packages, amps.packages()...)
}

// referEnds names the parts of a chain's ends. Those that do not belong to the board are
// called by what they are, with the number of the leg or of the block, as other programs
// want a digit at the end; on a board that is not held their numbers stay free.
func (c *Chain) referEnds() {
	last, held := map[netlist.Kind]int{}, false
	for _, p := range c.Ends {
		if k, n, ok := endNumber(p.Ref); ok {
			last[k], held = max(last[k], n), true
		}
	}
	legs := 0
	for i := range c.Ends {
		p := &c.Ends[i]
		switch {
		case p.Outside:
			n := c.Block
			if p.Use == SourceResistance {
				legs++
				n = legs
			}
			p.Ref = fmt.Sprintf("R%s%d", p.Use, n)
			if !held {
				last[p.Kind]++
			}
		case p.Ref == "":
			last[p.Kind]++
			p.Ref = fmt.Sprintf("%s%d00%02d", letter(p.Kind), c.Block, last[p.Kind])
		}
	}
}

// endNumber is the kind and the number of a reference such as R10003.
func endNumber(ref string) (netlist.Kind, int, bool) {
	if len(ref) < 2 {
		return 0, 0, false
	}
	kind := netlist.Resistor
	if ref[0] == 'C' {
		kind = netlist.Capacitor
	}
	n := 0 // nothing else is held
	_, err := fmt.Sscanf(ref[len(ref)-2:], "%d", &n)
	return kind, n, err == nil
}

// units hands out the op-amps of a block.
type units struct {
	block, per int
	held       map[*Stage][]string
	used       map[string]bool
	last       int // package
	free       []string
}

// unitsOf begins with the op-amps that a chain's stages hold, and with those beside
// them in their packages.
func (b *Board) unitsOf(c *Chain) *units {
	u := &units{block: c.Block, per: b.Spec.OpAmp.PerPackage, held: map[*Stage][]string{}, used: map[string]bool{}}
	started := map[int]bool{}
	for _, s := range c.Built() {
		if s.held == nil {
			continue
		}
		for _, p := range s.held.OpAmps[:min(len(s.held.OpAmps), s.Topology.OpAmps())] {
			if n, ok := u.packageOf(p.Ref); ok && !u.used[p.Ref] {
				u.used[p.Ref], started[n] = true, true
				u.held[s] = append(u.held[s], p.Ref)
				u.last = max(u.last, n)
			}
		}
	}
	for _, n := range slices.Sorted(maps.Keys(started)) {
		u.open(n)
	}
	return u
}

// packageOf is the number of the package that an op-amp of the block is in; false for
// the name of none, as where packages held another number of op-amps.
func (u *units) packageOf(ref string) (int, bool) {
	digits, ok := strings.CutPrefix(ref, fmt.Sprintf("U%d", u.block))
	k := 0
	if u.per > 1 && digits != "" {
		k = int(digits[len(digits)-1]) - 'A'
		digits = digits[:len(digits)-1]
	}
	n, err := strconv.Atoi(digits)
	return n, ok && err == nil && n > 0 && k >= 0 && k < u.per && unitName(u.packageRef(n), k, u.per) == ref
}

func (u *units) packageRef(n int) string { return fmt.Sprintf("U%d%02d", u.block, n) }

// open makes the op-amps of a package that nothing holds free to be used.
func (u *units) open(n int) {
	for k := range u.per {
		if name := unitName(u.packageRef(n), k, u.per); !u.used[name] {
			u.free = append(u.free, name)
		}
	}
}

// next is the reference of a stage's next op-amp.
func (u *units) next(s *Stage) string {
	if own := u.held[s]; len(own) > 0 {
		u.held[s] = own[1:]
		return own[0]
	}
	if len(u.free) == 0 {
		u.last++
		u.open(u.last)
	}
	name := u.free[0]
	u.free = u.free[1:]
	u.used[name] = true
	return name
}

// packages lists the packages in use.
func (u *units) packages() []Package {
	var out []Package
	for n := 1; n <= u.last; n++ {
		p := Package{Ref: u.packageRef(n)}
		for k := range u.per {
			if name := unitName(p.Ref, k, u.per); u.used[name] {
				p.Units = append(p.Units, name)
			} else {
				p.Spare = append(p.Spare, name)
			}
		}
		if p.Units != nil {
			out = append(out, p)
		}
	}
	return out
}

func unitName(ref string, k, per int) string {
	if per == 1 {
		return ref
	}
	return ref + string(rune('A'+k))
}

func letter(k netlist.Kind) string {
	return map[netlist.Kind]string{netlist.Resistor: "R", netlist.Capacitor: "C", netlist.Diode: "D", netlist.Contact: "K", netlist.Transistor: "Q"}[k]
}

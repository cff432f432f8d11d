package batch

import (
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
)

// Part is a resistor or capacitor that differs from board to board.
type Part struct {
	Ref  string
	Kind netlist.Kind
	// Value is the nominal one (ohm or farad).
	Value float64
	// Tolerance is the largest relative deviation as delivered, Tempco (1/K) and Ageing
	// how far the value moves at most with temperature and over the years, relative.
	Tolerance, Tempco, Ageing float64
	// Chain is what the board calls the chain that the part stands in: "common" or
	// the name of a way.
	Chain string
}

// largeTolerance is that of capacitors above the stock's range, which coupling
// capacitors are: usual for bipolar electrolytic types, and film is better.
const largeTolerance = 0.2

// bought is the part of a value that is bought.
func bought(b *language.Board, kind netlist.Kind, value float64) Part {
	from := &b.Resistors
	if kind == netlist.Capacitor {
		from = &b.Capacitors
	}
	p := Part{Kind: kind, Value: value, Tolerance: from.ToleranceOf(value), Tempco: from.TempcoOf(value), Ageing: from.Ageing}
	if kind == netlist.Capacitor && value > from.To {
		p.Tolerance = max(p.Tolerance, largeTolerance)
	}
	return p
}

// gather lists the parts of a board in the order of the signal: those of stages
// with the stages as blocks, then those of inputs and outputs.
func (s *Simulator) gather(b *board.Board) {
	known := map[string]int{} // the states of a switched stage share its parts
	add := func(c *board.Chain, kind netlist.Kind, ref string, value float64) int {
		if i, ok := known[ref]; ok {
			return i
		}
		p := bought(b.Spec, kind, value)
		p.Ref, p.Chain = ref, b.NameOf(c)
		known[ref] = len(s.Parts)
		s.Parts = append(s.Parts, p)
		return len(s.Parts) - 1
	}
	for _, c := range b.Chains() {
		for _, st := range c.Stages() {
			x := block{closed: st.Topology.Closed}
			values := st.Values
			for i, e := range st.Topology.Template {
				if e.Kind == netlist.Amplifier {
					continue
				}
				at := -1
				if values[0] != 0 {
					at = add(c, e.Kind, st.Refs[i], values[0])
				}
				x.parts, x.nominal, values = append(x.parts, at), append(x.nominal, values[0]), values[1:]
			}
			if len(x.parts) > 0 {
				s.stages[st] = len(s.blocks)
				s.blocks = append(s.blocks, x)
			}
		}
	}
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if !p.Outside && p.Passive() && p.Use != board.Trim { // a trimmer is set
				s.around = append(s.around, add(c, p.Kind, p.Ref, p.Value))
			}
		}
	}
}

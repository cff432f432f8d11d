package diagnosis

import (
	"cmp"
	"slices"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// stick finds which faults leave an op-amp on a way at a rail, with the input at rest: no sound comes out of that way, so that a
// measurement in which it is heard cannot be of such a board.
func (x *Bench) stick() error {
	s, _ := x.board.Solver(x.C)
	var t nodal.Ports
	for _, c := range x.board.Chains() {
		var columns uint32
		for column, w := range x.ways {
			if c == &x.board.Common || x.board.NameOf(c) == x.board.Ways[w].Name {
				columns |= 1 << column
			}
		}
		if columns == 0 {
			continue
		}
		for i := range c.Positions {
			p := &c.Positions[i]
			for _, stage := range p.Alt[p.Index(x.C)].Stages {
				if err := s.PortsDC(&t, x.board.Node(stage.Out), x.index); err != nil {
					return err
				}
				for k := range x.faults {
					if f := &x.faults[k]; f.Kind != Exchanged && x.resting(&t, f.parts[0], f.factors[0]) > x.board.OpAmp.SwingV {
						f.stuck |= columns
					}
				}
			}
		}
	}
	return nil
}

// silences reports whether a fault leaves an op-amp on a way at a rail, by column.
func (f *Fault) silences(column int) bool { return f.stuck>>column&1 != 0 }

// drive finds which of the hypotheses that are named have an op-amp swing from rail to rail with the input's level at the input:
// of such a board a recording at that level is distorted. Among those that these outputs cannot tell apart they are named last.
func (x *Bench) drive(d *Diagnosis) error {
	if x.board == nil || !d.Found() {
		return nil
	}
	var in *inside
	look := func(h *Hypothesis) (err error) {
		f := &h.fault
		if len(h.Parts) != 1 || h.Text != "" || f.stuck != 0 {
			return nil
		}
		if in == nil {
			if in, err = x.driven(); err != nil {
				return err
			}
		}
		times := f.factors[0]
		if open := x.Parts[f.parts[0]].Kind == netlist.Resistor; times == gone && open || times == bridged && !open {
			times = far
		} else if times < 0 {
			times = 1 / far
		}
		f.swings, err = in.swings(f.parts[0], times)
		return err
	}
	for i := range d.Hypotheses {
		h := &d.Hypotheses[i]
		if i == named || i > 0 && h.Likelihood < leastNamed {
			break
		}
		all := append([]Hypothesis{*h}, h.Alike...)
		seen := all[:min(len(all), 1+alikeNamed)]
		for k := range seen {
			if err := look(&seen[k]); err != nil {
				return err
			}
		}
		slices.SortStableFunc(seen, func(a, b Hypothesis) int {
			return cmp.Compare(min(a.fault.swings, 1), min(b.fault.swings, 1))
		})
		likelihood := h.Likelihood
		for k := range all {
			all[k].Alike = nil
		}
		*h = all[0]
		h.Likelihood, h.Alike = likelihood, all[1:]
	}
	return nil
}

package diagnosis

import "bandwright/compiler/nodal"

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

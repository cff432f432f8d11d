package diagnosis

import (
	"math/cmplx"
	"slices"
	"testing"
)

// railed silences the ways of readings on which a fault leaves an op-amp at a rail, by nodal analysis of the board with that
// fault at DC.
func (u *unit) railed(t testing.TB, readings []Reading, of func(factors []float64)) {
	one := slices.Repeat([]float64{1}, len(u.bench.Parts))
	of(one)
	for i, p := range u.bench.Parts {
		if err := u.solver.Set(u.bench.index[i], p.Value*one[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := u.solver.DC(); err != nil {
		t.Fatal(err)
	}
	for _, c := range u.Board.Chains() {
		for i := range c.Positions {
			p := &c.Positions[i]
			for _, stage := range p.Alt[p.Index(u.bench.C)].Stages {
				if cmplx.Abs(u.solver.Voltage(u.Board.Node(stage.Out))) <= u.Board.OpAmp.SwingV {
					continue
				}
				for k, r := range readings {
					if c == &u.Board.Common || u.Board.NameOf(c) == u.Board.Ways[r.Way].Name {
						readings[k] = Silence(r.Way)
					}
				}
			}
		}
	}
}

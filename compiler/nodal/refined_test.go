package nodal_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// A solution that is good enough to be accepted before its step of refinement is not looked at
// again after it: then what is accepted has to be within the bound all the same, and the step
// must not have made it worse. Circuits are scaled badly, with neighbours up to seven decades
// apart; the residual of what is left is worked out without rounding.
func TestRefinedWithoutASecondLook(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 7))
	between, worst, least := 0, 0.0, math.Inf(1)
	for range 40 {
		c, _ := board(12)
		s, err := nodal.New(c, 10)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range c.Parts() {
			decades := 7*r.Float64() - 3.5
			if p.Kind == netlist.Resistor || p.Kind == netlist.Capacitor {
				if err := s.Set(i, p.Value*math.Exp2(decades*math.Log2(10))); err != nil {
					t.Fatal(err)
				}
			}
		}
		for range 12 {
			before, told, exact, err := s.Looked(10 * math.Exp2(14*r.Float64()))
			if err != nil {
				continue // refused, which is right as well
			}
			if !(exact <= nodal.MaxResidual) {
				t.Errorf("accepted with %.2g, and is %.2g off", told, exact)
			}
			if before <= nodal.GoodResidual || before > nodal.MaxResidual {
				continue
			}
			between++
			worst, least = math.Max(worst, exact), math.Min(least, before/exact)
			if !(exact <= before) {
				t.Errorf("%.2g off before the step of refinement, %.2g after it", before, exact)
			}
		}
	}
	if between < 50 {
		t.Errorf("only %d solutions were accepted before their step", between)
	}
	t.Logf("%d solutions accepted before their step: at most %.2g off after it, at least %.2g times better", between, worst, least)
}

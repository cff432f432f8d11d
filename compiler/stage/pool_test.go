package stage

import (
	"math"
	"math/rand/v2"
	"testing"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// The bound of a logarithm is one, beside the standard library's; and the bound of the strain, by which sets of
// values are passed over, is never above it, nor so far below that it is of no use.
func TestLeastStrain(t *testing.T) {
	lowest, highest := math.Inf(1), 0.0
	for x := 1e-9; x < 1e9; x *= 1.0007 {
		d := math.Log2(x) - octavesBelow(x)
		lowest, highest = math.Min(lowest, d), math.Max(highest, d)
	}
	if lowest < -1e-12 || highest > mostBelow || highest < mostBelow-1e-3 {
		t.Errorf("logarithms are from %g to %g above their bound", lowest, highest)
	}
	p := &pool{elements: []circuit.Element{{Kind: netlist.Resistor}, {Kind: netlist.Resistor}, {Kind: netlist.Capacitor}, {Kind: netlist.Resistor}}, perPoint: 1}
	draw := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		p.noisy = draw.Float64()
		v := []float64{math.Exp2(5 + 16*draw.Float64()), math.Exp2(5 + 16*draw.Float64()), math.Exp2(-30 + 12*draw.Float64()), 0}
		is, least := p.strain(v), p.leastStrain(v)
		if least > is+scoreStep || least < 0.6*is-0.02 {
			t.Fatalf("%v, noisy %g: a strain of %g, at least %g", v, p.noisy, is, least)
		}
	}
}

package nodal_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// Changes of one part after the other, small and huge, come to what a solver finds that
// is given the new values.
func TestPortsAgainstNewSolutions(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	c.Resistor("R1", "in", "a", 10e3)
	c.Capacitor("C1", "a", "out", 10e-9)
	c.Resistor("R2", "a", "b", 22e3)
	c.Capacitor("C2", "b", "0", 4.7e-9)
	c.Resistor("R3", "0", "f", 47e3) // the ground is its first end
	c.Resistor("R4", "f", "out", 12e3)
	c.OpAmp("U1", "b", "f", "out", audio)
	out, _ := c.Find("out")
	parts := []int{1, 2, 3, 4, 5, 6}
	for range 200 {
		s, err := nodal.New(c, 10)
		if err != nil {
			t.Fatal(err)
		}
		hz := 20 * math.Exp2(10*r.Float64())
		if err := s.At(hz); err != nil {
			t.Fatal(err)
		}
		var p nodal.Ports
		if err := s.Ports(&p, out, parts); err != nil {
			t.Fatal(err)
		}
		for range 1 + r.IntN(4) {
			k := r.IntN(len(parts))
			was := s.Value(parts[k])
			is := c.Parts()[parts[k]].Value * math.Exp2(6*r.Float64()-3)
			y := complex(1/is-1/was, 0)
			if c.Parts()[parts[k]].Kind == netlist.Capacitor {
				y = complex(0, 2*math.Pi*hz*(is-was))
			}
			p.Change(k, y)
			if err := s.Set(parts[k], is); err != nil {
				t.Fatal(err)
			}
			if err := s.At(hz); err != nil {
				t.Fatal(err)
			}
		}
		var want nodal.Ports
		if err := s.Ports(&want, out, parts); err != nil {
			t.Fatal(err)
		}
		near := func(what string, got, want, unit complex128) {
			if cmplx.Abs(got-want) > 1e-9*(cmplx.Abs(want)+cmplx.Abs(unit)) {
				t.Fatalf("%s is %v, a solution with the new values has %v", what, got, want)
			}
		}
		near("the output", p.Out, want.Out, 0)
		for i := range parts {
			near("the voltage across a part", p.Across[i], want.Across[i], 1e-3)
			near("the reach of a part", p.Reach[i], want.Reach[i], 1)
			for k := range parts {
				near("an impedance", p.Z[i*len(parts)+k], want.Z[i*len(parts)+k], 1)
			}
		}
	}
	s, err := nodal.New(c, 10)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Ports(&nodal.Ports{}, out, parts); err == nil {
		t.Error("ports without a solution")
	}
}

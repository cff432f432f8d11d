package nodal_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// switched is a circuit of n op-amps with a contact beside every third stage, which
// passes it, and the contacts.
func switched(n int) (*netlist.Circuit, []int, []netlist.Node) {
	c, outs := board(n)
	var refs []string
	for k := 3; k <= n; k += 3 {
		ref := fmt.Sprintf("S%d", k)
		c.Resistor(ref, fmt.Sprintf("a%d", k), fmt.Sprintf("o%d", k), 1e3)
		refs = append(refs, ref)
	}
	var parts []int
	for _, ref := range refs {
		i, _ := c.Part(ref)
		parts = append(parts, i)
	}
	return c, parts, outs
}

// Whatever contacts are open or closed, what is left gives the voltages of a solution of
// all of the circuit.
func TestVariantsAgainstWholeSolutions(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	c, parts, outs := switched(24)
	s, err := nodal.New(c, 10)
	if err != nil {
		t.Fatal(err)
	}
	v, err := nodal.NewVariants(s, parts, outs)
	if err != nil {
		t.Fatal(err)
	}
	v = v.Clone()
	ohms := make([]float64, len(parts))
	draw := func() {
		for i := range ohms {
			ohms[i] = []float64{0.05, 1e10, 4700}[r.IntN(3)]
			if err := s.Set(parts[i], ohms[i]); err != nil {
				t.Fatal(err)
			}
		}
	}
	var left nodal.Left
	worst := 0.0
	compare := func(hz float64) {
		t.Helper()
		if err := s.At(hz); err != nil {
			t.Fatal(err)
		}
		for i, n := range outs {
			want := s.Voltage(n)
			worst = math.Max(worst, cmplx.Abs(v.Voltage(i)-want)/cmplx.Abs(want))
		}
	}
	for range 60 {
		hz := 10 * math.Exp2(11*r.Float64())
		draw()
		if err := v.Reduce(&left, hz, ohms); err != nil {
			t.Fatal(err)
		}
		compare(hz)
		for range 12 {
			draw()
			if err := v.Solve(&left, hz, ohms); err != nil {
				t.Fatal(err)
			}
			compare(hz)
		}
	}
	if !(worst < 1e-10) {
		t.Errorf("voltages differ by %.2g", worst)
	}
	t.Logf("worst %.2g", worst)
	if c, err := nodal.NewVariants(s, []int{0}, outs); err == nil {
		t.Errorf("a source may not vary: %v", c)
	}
}

func BenchmarkVariants40OpAmps(b *testing.B) {
	c, parts, outs := switched(40)
	s, err := nodal.New(c, 10)
	if err != nil {
		b.Fatal(err)
	}
	v, err := nodal.NewVariants(s, parts, outs)
	if err != nil {
		b.Fatal(err)
	}
	ohms := make([]float64, len(parts))
	for i := range ohms {
		ohms[i] = 0.05
	}
	var left nodal.Left
	b.Run("whole", func(b *testing.B) {
		for b.Loop() {
			if err := s.At(1000); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("reduced", func(b *testing.B) {
		for b.Loop() {
			if err := v.Reduce(&left, 1000, ohms); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("left", func(b *testing.B) {
		for b.Loop() {
			if err := v.Solve(&left, 1000, ohms); err != nil {
				b.Fatal(err)
			}
		}
	})
}

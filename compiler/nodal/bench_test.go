package nodal_test

import (
	"fmt"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// audio is an op-amp of the usual kind.
var audio = netlist.OpAmp{
	GainBandwidthHz: 10e6, OpenLoopGain: 316228, OutputOhm: 50,
	VoltageNoise: 5e-9, CurrentNoise: 0.5e-12, OffsetV: 2e-3, BiasA: 100e-9,
}

// board is a circuit of n op-amps: four branches of second-order low-passes,
// high-passes and inverting stages, as a four-way has.
func board(n int) (*netlist.Circuit, []netlist.Node) {
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	var outs []netlist.Node
	k := 0
	for way := range 4 {
		at := "in"
		for i := range n / 4 {
			k++
			name := func(s string) string { return fmt.Sprintf("%s%d", s, k) }
			out := name("o")
			switch (way + i) % 3 {
			case 0:
				c.Resistor(name("Ra"), at, name("a"), 8200)
				c.Resistor(name("Rb"), name("a"), name("b"), 5600)
				c.Capacitor(name("Ca"), name("a"), out, 22e-9)
				c.Capacitor(name("Cb"), name("b"), "0", 4.7e-9)
				c.OpAmp(name("U"), name("b"), out, out, audio)
			case 1:
				c.Capacitor(name("Ca"), at, name("a"), 22e-9)
				c.Capacitor(name("Cb"), name("a"), name("b"), 22e-9)
				c.Resistor(name("Ra"), name("a"), out, 8200)
				c.Resistor(name("Rb"), name("b"), "0", 18000)
				c.OpAmp(name("U"), name("b"), out, out, audio)
			case 2:
				c.Resistor(name("Ra"), at, name("a"), 10000)
				c.Resistor(name("Rb"), name("a"), out, 15000)
				c.Capacitor(name("Ca"), name("a"), "0", 22e-9)
				c.Resistor(name("Rc"), name("a"), name("b"), 6800)
				c.Capacitor(name("Cb"), name("b"), out, 2.2e-9)
				c.OpAmp(name("U"), "0", name("b"), out, audio)
			}
			at = out
		}
		outs = append(outs, c.Node(at))
	}
	return c, outs
}

func solver(b *testing.B, n int) (*nodal.Solver, []netlist.Node) {
	c, outs := board(n)
	s, err := nodal.New(c, 10)
	if err != nil {
		b.Fatal(err)
	}
	return s, outs
}

func BenchmarkAC40OpAmps(b *testing.B) {
	s, _ := solver(b, 40)
	hz := 10.0
	for b.Loop() {
		if hz *= 1.01; hz > 20e3 {
			hz = 10
		}
		if err := s.At(hz); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNoise40OpAmps(b *testing.B) {
	s, outs := solver(b, 40)
	for b.Loop() {
		if err := s.At(1000); err != nil {
			b.Fatal(err)
		}
		if _, err := s.Noise(outs[0], 300, nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSensitivities40OpAmps(b *testing.B) {
	s, outs := solver(b, 40)
	dst := make([]complex128, 400)
	for b.Loop() {
		if err := s.At(1000); err != nil {
			b.Fatal(err)
		}
		if err := s.Sensitivities(dst, outs[0]); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOrder40OpAmps(b *testing.B) {
	c, _ := board(40)
	for b.Loop() {
		if _, err := nodal.New(c, 10); err != nil {
			b.Fatal(err)
		}
	}
}

package nodal_test

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

func TestFloatingNodesAreNamed(t *testing.T) {
	cases := map[string]struct {
		build func(c *netlist.Circuit)
		dc    bool
		nodes string
	}{
		"a + input without a path": {func(c *netlist.Circuit) {
			c.Capacitor("C1", "in", "p", 1e-8)
			c.OpAmp("U1", "p", "out", "out", audio)
		}, true, "p out"},
		"an island": {func(c *netlist.Circuit) {
			c.Resistor("R1", "in", "0", 1e4)
			c.Resistor("R2", "x", "y", 1e4)
			c.Capacitor("C1", "y", "x", 1e-8)
		}, false, "x y"},
		"an op-amp without feedback": {func(c *netlist.Circuit) {
			c.Resistor("R1", "in", "a", 1e4)
			c.Resistor("R2", "a", "0", 1e4)
			c.OpAmp("U1", "a", "0", "out", netlist.OpAmp{Ideal: true})
		}, false, "out"},
		"capacitors alone": {func(c *netlist.Circuit) {
			c.Capacitor("C1", "in", "mid", 1e-8)
			c.Capacitor("C2", "mid", "0", 1e-8)
		}, true, "mid"},
		"a lone input": {func(c *netlist.Circuit) {
			c.Resistor("R1", "in", "0", 1e4)
			c.OpAmp("U1", "nowhere", "out", "out", audio)
		}, false, "nowhere out"},
	}
	for name, k := range cases {
		c := netlist.New()
		c.Source("Vin", "in", "0", 1)
		k.build(c)
		s, err := nodal.New(c, 10)
		if k.dc {
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			err = s.DC()
		}
		var singular *nodal.Singular
		if !errors.As(err, &singular) {
			t.Errorf("%s: %v, want a floating node", name, err)
			continue
		}
		if got := strings.Join(singular.Nodes, " "); got != k.nodes {
			t.Errorf("%s: %s said to float, want %s (%v)", name, got, k.nodes, err)
		}
	}
	// Two sources in parallel fight.
	c := netlist.New()
	c.Source("V1", "in", "0", 1)
	c.Source("V2", "in", "0", 2)
	var singular *nodal.Singular
	if _, err := nodal.New(c, 10); !errors.As(err, &singular) || len(singular.Parts) != 2 {
		t.Errorf("two sources on one node: %v", err)
	}
}

func TestLadderAgainstItsFormula(t *testing.T) {
	// Loaded divider with a capacitor: H = 1/(1 + R1/R2 + sR1C).
	c := netlist.New()
	v := c.Source("Vin", "in", "0", 1)
	c.Resistor("R1", "in", "out", 3300)
	r2 := c.Resistor("R2", "out", "0", 10e3)
	c.Capacitor("C1", "out", "0", 22e-9)
	s := newSolver(t, c, 1)
	clone := s.Clone()
	for _, hz := range []float64{1, 300, 2e4} {
		want := 1 / complex(1+3300.0/10e3, 2*math.Pi*hz*3300*22e-9)
		if err := s.At(hz); err != nil {
			t.Fatal(err)
		}
		if h := s.Voltage(c.Node("out")); cmplx.Abs(h-want) > 1e-14 {
			t.Errorf("%g Hz: %v, want %v", hz, h, want)
		}
		// The source sees R1 and the rest in series.
		if i := -s.Current(v); cmplx.Abs(i-(1-want)/3300) > 1e-15 {
			t.Errorf("current %v", i)
		}
	}
	if err := s.Set(r2, 5e3); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Noise(c.Node("out"), 300, nil); err == nil {
		t.Error("noise without a solution for the new value")
	}
	if s.Value(r2) != 5e3 || clone.Value(r2) != 10e3 {
		t.Error("a clone shares values")
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if s.Set(r2, bad) == nil || s.At(bad) == nil {
			t.Errorf("%g is accepted", bad)
		}
	}
	if s.Set(v, 1) == nil || s.Set(-1, 1) == nil || s.Set(99, 1) == nil {
		t.Error("a source has no resistance to set")
	}
}

func TestPolesOfKnownCircuits(t *testing.T) {
	// Two equal separate RC sections: a double pole. A Sallen-Key low-pass of
	// Q 1/√2 at 1 kHz beside them.
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	for _, n := range []string{"1", "2"} {
		c.Resistor("R"+n, "in", "o"+n, 1e4)
		c.Capacitor("C"+n, "o"+n, "0", 1e-8)
	}
	r := 1 / (2 * math.Pi * 1000 * math.Sqrt2 * 1e-8)
	c.Resistor("R3", "in", "a", r)
	c.Resistor("R4", "a", "b", r)
	c.Capacitor("C3", "a", "out", 2e-8)
	c.Capacitor("C4", "b", "0", 1e-8)
	c.OpAmp("U1", "b", "out", "out", netlist.OpAmp{Ideal: true})
	poles, err := newSolver(t, c, 10).Poles()
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * 1000
	want := []complex128{complex(-w/math.Sqrt2, w/math.Sqrt2), complex(-w/math.Sqrt2, -w/math.Sqrt2), -1e4, -1e4}
	if len(poles) != len(want) {
		t.Fatalf("poles %v", poles)
	}
	for i := range want {
		if cmplx.Abs(poles[i]-want[i]) > 1e-7*cmplx.Abs(want[i]) {
			t.Errorf("pole %d: %v, want %v", i, poles[i], want[i])
		}
	}
	// Positive feedback oscillates.
	o := netlist.New()
	o.Resistor("R1", "out", "p", 1e3)
	o.Resistor("R2", "p", "0", 1e3)
	o.OpAmp("U1", "p", "0", "out", audio)
	poles, err = newSolver(t, o, 10).Poles()
	if err != nil || len(poles) != 1 || real(poles[0]) < 1e6 {
		t.Errorf("a latch has poles %v (%v)", poles, err)
	}
}

func TestOffsetsOfAnInvertingStage(t *testing.T) {
	// Vos·(1+R2/R1) + Ib·R2 - Ib·R3·(1+R2/R1) for large open-loop gain.
	m := netlist.OpAmp{GainBandwidthHz: 1e7, OpenLoopGain: 1e12, OffsetV: 1e-3, BiasA: 1e-7}
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	c.Resistor("R1", "in", "m", 1e4)
	c.Resistor("R2", "m", "out", 1e5)
	c.Resistor("R3", "p", "0", 2e4)
	u := c.OpAmp("U1", "p", "m", "out", m)
	o, err := newSolver(t, c, 1).Offsets(c.Node("out"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "nominal", o.Nominal, 11e-3+1e-2-2.2e-2, 1e-9)
	near(t, "worst", o.Worst, 11e-3+1e-2+2.2e-2, 1e-9)
	near(t, "share", o.ByPart[u], o.Worst, 1e-12)
}

// scramble is a circuit from bytes: any part between any of a few nodes, with
// values that may be wrong too.
func scramble(data []byte) *netlist.Circuit {
	c := netlist.New()
	names := []string{"0", "in", "a", "b", "c", "d", "e", "out"}
	c.Source("Vin", "in", "0", 1)
	next := func() int {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return int(b)
	}
	for i := 0; len(data) > 0 && i < 60; i++ {
		ref := string(rune('a'+i%26)) + string(rune('a'+i/26))
		kind, x, y, z := next(), names[next()%8], names[next()%8], names[next()%8]
		size := math.Exp2(float64(next()-128) / 4)
		switch kind % 12 {
		case 0, 1, 2, 3:
			c.Resistor("R"+ref, x, y, 1e4*size)
		case 4, 5, 6:
			c.Capacitor("C"+ref, x, y, 1e-8*size)
		case 7, 8:
			c.OpAmp("U"+ref, x, y, z, netlist.OpAmp{Ideal: true})
		case 9:
			m := audio
			m.GainBandwidthHz *= size
			c.OpAmp("U"+ref, x, y, z, m)
		case 10:
			c.Source("V"+ref, x, y, size)
		case 11:
			c.Resistor("R"+ref, x, y, []float64{0, -1, math.NaN(), math.Inf(1), 1e-300, 1e300}[next()%6])
		}
	}
	return c
}

// analyse does everything to a circuit that there is; results must be finite.
func analyse(t *testing.T, c *netlist.Circuit) bool {
	_ = netlist.SPICE(c, 300)
	s, err := nodal.New(c, 1)
	if err != nil {
		return false
	}
	out := c.Node("out")
	finite := func(what string, z complex128) {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			t.Errorf("%s is %v\n%s", what, z, netlist.SPICE(c, 300))
		}
	}
	dst := make([]complex128, len(c.Parts()))
	for _, hz := range []float64{1, 1e3, 1e6} {
		if s.At(hz) != nil {
			continue
		}
		finite("voltage", s.Voltage(out))
		n, err := s.Noise(out, 300, nil)
		if err == nil {
			finite("noise", complex(n, 0))
		}
		if s.Sensitivities(dst, out) == nil {
			for _, d := range dst {
				finite("sensitivity", d)
			}
		}
	}
	if o, err := s.Offsets(out); err == nil {
		finite("offset", complex(o.Worst, o.Nominal))
	}
	if poles, err := s.Poles(); err == nil {
		for _, p := range poles {
			finite("pole", p)
		}
	}
	return true
}

func FuzzNetlists(f *testing.F) {
	f.Add([]byte{0, 1, 7, 0, 128, 4, 7, 0, 0, 128})
	f.Add([]byte{7, 1, 2, 7, 0, 0, 2, 7, 0, 100, 11, 1, 2, 3, 4, 5})
	f.Add([]byte{9, 1, 2, 7, 128, 0, 2, 7, 0, 128, 0, 2, 0, 0, 128})
	f.Fuzz(func(t *testing.T, data []byte) { analyse(t, scramble(data)) })
}

// Random netlists never panic, and many of them have a solution.
func TestRandomNetlists(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 9))
	good := 0
	for range 4000 {
		data := make([]byte, 5*(3+rng.IntN(14)))
		for i := range data {
			data[i] = byte(rng.IntN(256))
		}
		for i := 0; i < len(data); i += 5 {
			if data[i]%12 >= 10 && rng.IntN(10) > 0 {
				data[i] = byte(rng.IntN(9)) // few faults and few sources
			}
			data[i+4] = byte(64 + rng.IntN(128))
		}
		if analyse(t, scramble(data)) {
			good++
		}
	}
	if good < 400 {
		t.Errorf("only %d of 4000 random netlists had a solution", good)
	}
	t.Logf("%d of 4000 had a solution", good)
}

func TestEmptyAndFaultyCircuits(t *testing.T) {
	if s, err := nodal.New(netlist.New(), 10); err != nil {
		t.Error(err)
	} else if err := s.At(10); err != nil {
		t.Error(err)
	}
	c := netlist.New()
	c.Resistor("R1", "a", "0", 1e3)
	for _, hz := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := nodal.New(c, hz); err == nil {
			t.Errorf("lowest frequency %g is accepted", hz)
		}
	}
	c.Resistor("r1", "a", "0", 1e3)
	if _, err := nodal.New(c, 1); err == nil || !strings.Contains(err.Error(), "r1") {
		t.Errorf("two parts of one name: %v", err)
	}
}

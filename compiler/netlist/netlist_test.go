package netlist_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler/netlist"
)

func TestCheckNamesTheFault(t *testing.T) {
	real := netlist.OpAmp{GainBandwidthHz: 1e7, OpenLoopGain: 1e5}
	for want, build := range map[string]func(c *netlist.Circuit){
		"two parts are called R1":   func(c *netlist.Circuit) { c.Resistor("R1", "a", "0", 1); c.Capacitor("R1", "a", "0", 1e-9) },
		"two parts are called 1":    func(c *netlist.Circuit) { c.Resistor("R1", "a", "0", 1); c.Resistor("1", "a", "0", 1) },
		"R2 is -5":                  func(c *netlist.Circuit) { c.Resistor("R2", "a", "0", -5) },
		"R2 is 0":                   func(c *netlist.Circuit) { c.Resistor("R2", "a", "0", 0) },
		"value of C1 is not finite": func(c *netlist.Circuit) { c.Capacitor("C1", "a", "0", math.NaN()) },
		"value of V1 is not finite": func(c *netlist.Circuit) { c.Source("V1", "a", "0", math.Inf(1)) },
		"node name \"a b\"":         func(c *netlist.Circuit) { c.Resistor("R1", "a b", "0", 1) },
		"reference \"R 1\"":         func(c *netlist.Circuit) { c.Resistor("R 1", "a", "0", 1) },
		"reference \"\"":            func(c *netlist.Circuit) { c.Resistor("", "a", "0", 1) },
		"gain-bandwidth":            func(c *netlist.Circuit) { c.OpAmp("U1", "a", "b", "c", netlist.OpAmp{OpenLoopGain: 1e5}) },
		"open-loop gain": func(c *netlist.Circuit) {
			m := real
			m.OpenLoopGain = math.NaN()
			c.OpAmp("U1", "a", "b", "c", m)
		},
		"noise densities": func(c *netlist.Circuit) {
			m := real
			m.CurrentNoise = -1
			c.OpAmp("U1", "a", "b", "c", m)
		},
		"output resistance": func(c *netlist.Circuit) {
			m := real
			m.OutputOhm = math.Inf(1)
			c.OpAmp("U1", "a", "b", "c", m)
		},
		"offset": func(c *netlist.Circuit) {
			m := real
			m.OffsetV = math.NaN()
			c.OpAmp("U1", "a", "b", "c", m)
		},
	} {
		c := netlist.New()
		build(c)
		if err := c.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	c := netlist.New()
	c.Resistor("R1", "A", "gnd", 1e3)
	c.OpAmp("U1", "a", "out", "out", real)
	if err := c.Check(); err != nil {
		t.Error(err)
	}
	if n, ok := c.Find("a"); !ok || n != c.Node("A") || c.Name(n) != "a" {
		t.Error("names of nodes depend on case")
	}
	if n, ok := c.Find("GND"); !ok || n != netlist.Ground || c.Nodes() != 3 {
		t.Error("gnd is not the ground")
	}
	if i, ok := c.Part("u1"); !ok || c.Parts()[i].Kind != netlist.Amplifier {
		t.Error("parts are not found whatever the case")
	}
	if _, ok := c.Find("b"); ok {
		t.Error("a node that is not there")
	}
}

func TestSpiceText(t *testing.T) {
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	c.Resistor("R1101", "in", "a", 4700)
	c.Capacitor("C1101", "a", "0", 1e-7)
	c.OpAmp("U1101A", "a", "out", "out", netlist.OpAmp{Ideal: true})
	const want = `Vin in 0 DC 0 AC 1
R1101 in a 4700
C1101 a 0 1e-07
XU1101A a out out opamp1
.subckt opamp1 plus minus out
Gin 0 x plus minus 1
Eout out 0 x 0 1
.ends
`
	if got := netlist.SPICE(c, 300.15); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	// Op-amps of the same data share a subcircuit.
	c.OpAmp("U2", "a", "o2", "o2", netlist.OpAmp{Ideal: true})
	c.OpAmp("U3", "a", "o3", "o3", netlist.OpAmp{GainBandwidthHz: 1e7, OpenLoopGain: 1e5})
	if got := netlist.SPICE(c, 300.15); strings.Count(got, ".subckt") != 2 {
		t.Errorf("%s", got)
	}
	for _, v := range []float64{1e-7, 4.7e-9, 1.0 / 3, 1e21, -2.5, 6.8e-12, math.Copysign(0, -1)} {
		back, err := strconv.ParseFloat(netlist.Number(v), 64)
		if err != nil || back != v || strings.HasPrefix(netlist.Number(0*v), "-") {
			t.Errorf("%g is written %s", v, netlist.Number(v))
		}
	}
}

package stage

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// What stages add is what the nodal analysis of their netlists says, integrated adaptively
// and with an ideal low-pass behind, for every topology.
func TestAdds(t *testing.T) {
	const (
		noiseTolerance = 0.03 // of the power, 0.13 dB
		dcTolerance    = 1e-9
	)
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	b.Means.OpAmp.OffsetV, b.Means.OpAmp.BiasA = 1e-3, 100e-9
	corner := func(hz float64) float64 { return 1 / math.Hypot(1, hz/500) }
	tried := 0
	for _, s := range sections() {
		all, _, err := b.Candidates(s, nil, 1, Behind{})
		if err != nil {
			t.Fatal(err)
		}
		plain, err := b.Adds(all, Behind{})
		if err != nil {
			t.Fatal(err)
		}
		filtered, err := b.Adds(all, Behind{Gain: func(hz float64) float64 { return 0.5 * corner(hz) }})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range all {
			circuit := c.Topology.Alone(c.Values, b.Means.OpAmp)
			solver, err := nodal.New(circuit, 20)
			if err != nil {
				t.Fatal(err)
			}
			out, _ := circuit.Find("out")
			flat, _, err := solver.IntegratedNoise([]netlist.Node{out}, roomK, 20, 20e3)
			if err != nil {
				t.Fatal(err)
			}
			behind := 0.0 // the midpoint rule at 48 points an octave
			for _, f := range biquad.OctavesBelow(20, 20e3, 48) {
				mid := f * math.Exp2(1.0/96)
				if err := solver.At(mid); err != nil {
					t.Fatal(err)
				}
				v, _ := solver.Noise(out, roomK, nil)
				v *= 0.5 * corner(mid)
				behind += v * v * mid * math.Ln2 / 48
			}
			near := func(what string, got, want, tolerance float64) {
				tried++
				if math.Abs(got-want) > tolerance*want {
					t.Errorf("%s: %s is %g, by nodal analysis %g", c.Topology.Name, what, got, want)
				}
			}
			near("noise", plain[i].NoiseV2, flat[0]*flat[0], noiseTolerance)
			near("noise behind a low-pass", filtered[i].NoiseV2, behind, noiseTolerance)
			dc, err := solver.Offsets(out)
			if err != nil {
				t.Fatal(err)
			}
			near("DC", plain[i].OffsetV, dc.Worst, dcTolerance)
			near("DC behind a gain", filtered[i].OffsetV, dc.Worst/2, dcTolerance)
			sum, largest := 0.0, 0.0
			for _, p := range circuit.Parts() {
				if p.Kind == netlist.Capacitor {
					sum, largest = sum+p.Value, math.Max(largest, p.Value)
				}
			}
			if s, l := c.Capacitance(); math.Abs(s-sum) > 1e-15 || l != largest {
				t.Errorf("%s: capacitance %g, largest %g, its netlist has %g and %g", c.Topology.Name, s, l, sum, largest)
			}
		}
	}
	if tried < 200 {
		t.Errorf("%d figures were tried", tried)
	}
}

// Bulk grows by a half where 100 nF take the place of 41.4 nF, and by one for each
// doubling of a large capacitor.
func TestBulk(t *testing.T) {
	b := corpusBench("E24", "E6")
	all, _, err := b.Candidates(sections()[10], nil, 1, Behind{})
	if err != nil {
		t.Fatal(err)
	}
	c := all[0]
	base := c.Bulk()
	for i, e := range c.Topology.Parts() {
		if e.Kind == netlist.Capacitor {
			c.Values[i] = 100e-6
			large := c.Bulk()
			c.Values[i] = 200e-6
			if got := c.Bulk() - large; math.Abs(got-1) > 1e-2 {
				t.Errorf("from 100 uF to 200 uF: %g more", got)
			}
			c.Values[i] = 0
			if c.Bulk() >= base {
				t.Error("a capacitor less is no less")
			}
			return
		}
	}
	t.Error("no capacitor")
}

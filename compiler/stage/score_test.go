package stage

import (
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/stage/stagetest"
)

// measuredAs is a candidate of a topology with given values, measured.
func measuredAs(t *testing.T, b *Bench, name string, section biquad.Analog, values ...float64) Candidate {
	t.Helper()
	topology, ok := circuit.ByName(name)
	if !ok {
		t.Fatalf("no topology %s", name)
	}
	all := []Candidate{{Topology: topology, Section: section, Values: values, Level: 1}}
	if topology.Inverts {
		all[0].Level = -1
	}
	if err := b.Measure(all); err != nil {
		t.Fatal(err)
	}
	return all[0]
}

// What op-amps drive, by hand: of a multiple-feedback high-pass the input is its first
// capacitor into a virtual ground, of an inverting gain the input is R1, and its op-amp
// drives R2.
func TestLoads(t *testing.T) {
	b := corpusBench("E24", "E6")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	c := measuredAs(t, b, "multiple-feedback-high-pass", stagetest.Pair("high-pass", 210, stagetest.Q7), 82e-9, 82e-9, 82e-9, 4.3e3, 20e3)
	if math.Abs(c.InputFarad-82e-9) > 0.05*82e-9 {
		t.Errorf("the input has %.3g F, by hand 82 nF", c.InputFarad)
	}
	if x := 1 / (2 * math.Pi * 20e3 * 82e-9); math.Abs(c.InputOhm-x) > 0.05*x {
		t.Errorf("the input is %.1f ohm, by hand %.1f ohm at 20 kHz", c.InputOhm, x)
	}
	points := pointsPerCapacitiveLoad*math.Log2(c.InputFarad/easyFarad) + pointsPerLoad*math.Log2(easyLoad/c.InputOhm)
	light := c
	light.InputFarad, light.InputOhm = 0, openInputOhm
	if d := c.Score - again(light); math.Abs(d-points) > 1e-6 || points < 10 {
		t.Errorf("the input costs %.3f points, not %.3f", d, points)
	}
	g := measuredAs(t, b, "inverting-gain", biquad.Constant(2), 500, 1000)
	if math.Abs(g.InputOhm-500) > 1 || math.Abs(g.DrivenOhm-1000) > 10 || g.InputFarad > 1e-12 {
		t.Errorf("an inverting gain of 500 ohm and 1 kohm: input %.1f ohm and %.3g F, its op-amp drives %.1f ohm", g.InputOhm, g.InputFarad, g.DrivenOhm)
	}
	easy := g
	easy.DrivenOhm = openInputOhm
	if d := g.Score - again(easy); math.Abs(d-pointsPerOwnLoad*math.Log2(easyLoad/g.DrivenOhm)) > 1e-6 {
		t.Errorf("1 kohm at the op-amp costs %.3f points", d)
	}
}

// DC: an op-amp with offset and bias current costs in proportion to what nodal analysis
// finds at the output, times the gain behind.
func TestDCSpeaksAgainst(t *testing.T) {
	ideal, real := corpusBench("E24", "E6"), corpusBench("E24", "E6")
	for _, b := range []*Bench{ideal, real} {
		b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	}
	ideal.Means.OpAmp.OffsetV, ideal.Means.OpAmp.BiasA = 0, 0
	real.Means.OpAmp.OffsetV, real.Means.OpAmp.BiasA = 1e-3, 100e-9
	section := stagetest.Pair("low-pass", 40, stagetest.Q7)
	values := []float64{68e3, 68e3, 82e-9, 39e-9}
	none, some := measuredAs(t, ideal, "sallen-key-low-pass", section, values...), measuredAs(t, real, "sallen-key-low-pass", section, values...)
	circuit := some.Topology.Alone(values, real.Means.OpAmp)
	s, err := nodal.New(circuit, 20)
	if err != nil {
		t.Fatal(err)
	}
	out, _ := circuit.Find("out")
	dc, err := s.Offsets(out)
	if err != nil {
		t.Fatal(err)
	}
	// 1 mV, and 100 nA in 136 kohm.
	if math.Abs(dc.Worst-14.6e-3) > 0.1e-3 {
		t.Errorf("by nodal analysis %g V, by hand 14.6 mV", dc.Worst)
	}
	half := Behind{Gain: func(float64) float64 { return 0.5 }}
	for _, behind := range []Behind{{}, half} {
		gains := behind.over(noiseHz(section))
		none.weigh(gains)
		some.weigh(gains)
		if d := some.Score - none.Score; math.Abs(d-pointsPerVolt*dc.Worst*gains[0]) > 1e-6 {
			t.Errorf("DC of %g V behind a gain of %g costs %g points", dc.Worst, gains[0], d)
		}
	}
}

// Noise: where the way goes on loud the first of a stage's sets of values is a quiet one
// with larger capacitors, and where nothing of its noise is left one with smaller ones.
func TestNoiseCountsByWhatIsBehind(t *testing.T) {
	b := corpusBench("E96", "E12")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	shelf := stagetest.Shaped("low-shelf", map[string]float64{"at": 300, "order": 1, "gain": -6})
	first := func(gain float64) (farad, noise float64) {
		topology, _ := circuit.ByName("low-cut")
		all, no, err := b.Candidates(shelf, []*circuit.Topology{topology}, 100, Behind{Gain: func(float64) float64 { return gain }})
		if err != nil || len(all) < 2 {
			t.Fatal("no choice", err, no)
		}
		x, err := b.Adds(all[:1], Behind{})
		if err != nil {
			t.Fatal(err)
		}
		sum, _ := all[0].Capacitance()
		return sum, x[0].NoiseV2
	}
	small, loud := first(0.01)
	large, quiet := first(10)
	if !(quiet < 0.7*loud) || !(small < 0.7*large) {
		t.Errorf("behind a gain of 0.01 %.3g nF and %.2f uV, of 10 %.3g nF and %.2f uV", 1e9*small, 1e6*math.Sqrt(loud), 1e9*large, 1e6*math.Sqrt(quiet))
	}
}

// Capacitance: of two sets of values that differ by a factor, the one with small
// capacitors is first, as long as nothing is noisy; both are among the choices.
func TestCapacitanceSpeaksAgainst(t *testing.T) {
	b := corpusBench("E96", "E12")
	b.Band = Band{FromHz: 20, ToHz: 20e3, DownDB: 40}
	section := stagetest.Pair("high-pass", 260, stagetest.Q7)
	topology, _ := circuit.ByName("sallen-key-high-pass")
	all, _, err := b.Candidates(section, []*circuit.Topology{topology}, 160, Behind{})
	if err != nil {
		t.Fatal(err)
	}
	_, largest := all[0].Capacitance()
	top := 0.0
	for _, c := range all {
		for i, e := range c.Topology.Parts() {
			if e.Kind == netlist.Capacitor {
				top = math.Max(top, c.Values[i])
			}
		}
	}
	if largest > 100e-9 || top < 3*largest {
		t.Errorf("the first choice has %.3g F, the largest of all %.3g F", largest, top)
	}
	heavy := all[0]
	heavy.Values = append([]float64(nil), heavy.Values...)
	heavy.Values[0] *= 10
	more := math.Log2(1+heavy.Values[0]/100e-9) - math.Log2(1+all[0].Values[0]/100e-9)
	if d := again(heavy) - again(all[0]); math.Abs(d-pointsPerBulk*more) > 1e-6 {
		t.Errorf("ten times the capacitance costs %g points", d)
	}
}

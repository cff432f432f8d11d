package nodal_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// noisePublished is golden/published/noise.json, which names its sources.
type noisePublished struct {
	Thermal struct {
		Table []struct {
			R, T float64
			EnNV float64 `json:"en_nV"`
		}
		Ngspice struct {
			Value struct{ Spectrum, Total float64 }
		}
	}
	KTOverC []struct {
		C, T float64
		Vrms float64 `json:"vrms_uV"`
	} `json:"kT_over_C"`
	Franco struct {
		Ex71 struct {
			Enw   float64 `json:"e_nw_nV"`
			Fce   float64 `json:"f_ce"`
			Cases []struct {
				FL, FH   float64
				Computed float64 `json:"computed_uV"`
			}
		} `json:"ex_7_1"`
		Ex74 struct {
			R, T     float64
			Computed struct {
				Rms float64 `json:"rms_20_20k_uV"`
			}
		} `json:"ex_7_4"`
		Ex77 struct {
			Inputs struct {
				R1, R2, R3, T float64
				Enw           float64 `json:"e_nw"`
				Fce           float64 `json:"f_ce"`
				Ft            float64 `json:"f_t"`
				Inw           float64 `json:"i_nw"`
				Fci           float64 `json:"f_ci"`
				FL            float64 `json:"fL"`
			}
			Published struct {
				Total float64 `json:"E_no_uV"`
			}
			Computed struct {
				E     float64 `json:"E_noe_uV"`
				I     float64 `json:"E_noi_uV"`
				R     float64 `json:"E_noR_uV"`
				Total float64 `json:"E_no_uV"`
			}
		} `json:"ex_7_7"`
		Ex79 struct {
			Published float64 `json:"published_SNR_db"`
			Computed  float64
		} `json:"ex_7_9"`
	}
	NonInverting struct {
		Terms struct{ Rs, En, Rg, Rf float64 } `json:"terms_nV"`
		Total float64                          `json:"total_nV_per_rtHz"`
		Rms   float64                          `json:"rms_20_20k_uV"`
	} `json:"noninverting_example"`
	Bandwidth struct {
		Butterworth []struct {
			N     int
			Ratio float64 `json:"nbw_over_f3db"`
		}
		SecondOrder []struct {
			Q     float64
			Ratio float64 `json:"nbw_over_f0"`
		} `json:"second_order_lowpass"`
	} `json:"noise_bandwidth"`
}

func readNoise(t *testing.T) noisePublished {
	t.Helper()
	data, err := os.ReadFile("../../golden/published/noise.json")
	if err != nil {
		t.Fatal(err)
	}
	var n noisePublished
	if err := json.Unmarshal(data, &n); err != nil {
		t.Fatal(err)
	}
	if len(n.Thermal.Table) < 10 || len(n.KTOverC) < 6 || len(n.Bandwidth.SecondOrder) < 5 {
		t.Fatal("noise.json has lost values")
	}
	return n
}

func newSolver(t *testing.T, c *netlist.Circuit, hz float64) *nodal.Solver {
	t.Helper()
	s, err := nodal.New(c, hz)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g (relative %.2g)", what, got, want, math.Abs(got/want-1))
	}
}

func TestThermalNoise(t *testing.T) {
	n := readNoise(t)
	const digits = 1e-5 // of the table
	for _, row := range n.Thermal.Table {
		c := netlist.New()
		c.Resistor("R1", "out", "0", row.R)
		s := newSolver(t, c, 1)
		if err := s.At(1000); err != nil {
			t.Fatal(err)
		}
		d, err := s.Noise(c.Node("out"), row.T, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "thermal noise", d*1e9, row.EnNV, digits)
	}
	// 20 Hz to 20 kHz of 10 kΩ at 298 K.
	e := n.Franco.Ex74
	c := netlist.New()
	c.Resistor("R1", "out", "0", e.R)
	flat, weighted, err := integrated(newSolver(t, c, 1), c.Node("out"), e.T, 20, 20e3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "10 kΩ, 20 Hz to 20 kHz", flat*1e6, e.Computed.Rms, digits)
	// White noise through the A weighting: 1.9 dB less over 20 Hz to 20 kHz, by
	// a plain sum of 1e5 points.
	sum, steps := 0.0, 100000
	for i := range steps {
		a := nodal.AWeighting(20 + (20e3-20)*(float64(i)+0.5)/float64(steps))
		sum += a * a / float64(steps)
	}
	near(t, "A-weighted", weighted, flat*math.Sqrt(sum), 1e-6)
}

// sqrt(kT/C) whatever the resistor: the integral over all frequencies.
func TestNoiseOfACapacitor(t *testing.T) {
	for _, row := range readNoise(t).KTOverC {
		const r = 1e4
		c := netlist.New()
		c.Resistor("R1", "out", "0", r)
		c.Capacitor("C1", "out", "0", row.C)
		corner := 1 / (2 * math.Pi * r * row.C)
		flat, _, err := integrated(newSolver(t, c, corner*1e-6), c.Node("out"), row.T, corner*1e-6, corner*1e6)
		if err != nil {
			t.Fatal(err)
		}
		// The table has five decimals; the band leaves out 2/π·2e-6 of the power.
		near(t, "kT/C", flat*1e6, row.Vrms, 3e-5)
	}
}

// Noise bandwidths: the integral of a filtered white source over the source's
// density, with noiseless parts but one. A second-order low-pass has
// π/2·Q·f0.
func TestNoiseBandwidth(t *testing.T) {
	for _, row := range readNoise(t).Bandwidth.SecondOrder {
		const c2 = 1e-9
		c1 := 4 * row.Q * row.Q * c2 * 1.0001
		const f0 = 1000.0
		w := 2 * math.Pi * f0
		sum, product := 1/(w*row.Q*c2), 1/(w*w*c1*c2)
		r1 := sum/2 + math.Sqrt(sum*sum/4-product)
		n := netlist.New()
		n.Resistor("Rn", "in", "0", 1) // the noise, amplified far above the rest
		quiet := netlist.OpAmp{GainBandwidthHz: 1e15, OpenLoopGain: 1e15}
		n.Resistor("Rg", "m", "0", 1e-3)
		n.Resistor("Rf", "b", "m", 1e6)
		n.OpAmp("U0", "in", "m", "b", quiet)
		n.Resistor("R1", "b", "x", r1)
		n.Resistor("R2", "x", "y", product/r1)
		n.Capacitor("C1", "x", "out", c1)
		n.Capacitor("C2", "y", "0", c2)
		n.OpAmp("U1", "y", "out", "out", netlist.OpAmp{Ideal: true})
		s := newSolver(t, n, 1e-3)
		flat, _, err := integrated(s, n.Node("out"), 300, 1e-2, 1e8)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.At(1); err != nil {
			t.Fatal(err)
		}
		d, err := s.Noise(n.Node("out"), 300, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "noise bandwidth", flat*flat/(d*d)/f0, row.Ratio, 1e-4)
	}
}

func TestNonInvertingExample(t *testing.T) {
	n := readNoise(t).NonInverting
	c := netlist.New()
	c.Resistor("Rs", "p", "0", 1e3)
	c.Resistor("Rg", "m", "0", 1e3)
	c.Resistor("Rf", "m", "out", 9e3)
	amp := c.OpAmp("U1", "p", "m", "out", netlist.OpAmp{GainBandwidthHz: 1e15, OpenLoopGain: 1e12, VoltageNoise: 5e-9})
	s := newSolver(t, c, 1)
	if err := s.At(1000); err != nil {
		t.Fatal(err)
	}
	shares := make([]float64, len(s.NoiseSources()))
	d, err := s.Noise(c.Node("out"), 300.15, shares)
	if err != nil {
		t.Fatal(err)
	}
	const digits = 1e-6
	near(t, "total", d*1e9, n.Total, digits)
	want := map[int]float64{0: n.Terms.Rs, 1: n.Terms.Rg, 2: n.Terms.Rf, amp: n.Terms.En}
	for i, src := range s.NoiseSources() {
		if src.Part == amp && src.Cause != nodal.VoltageNoise {
			continue
		}
		near(t, "term of part", math.Sqrt(shares[i])*1e9, want[src.Part], 1e-5)
	}
	flat, _, err := integrated(s, c.Node("out"), 300.15, 20, 20e3)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "20 Hz to 20 kHz", flat*1e6, n.Rms, digits)
}

// Example 7.1: noise that rises below 200 Hz, over three bands, at the output
// of a follower.
func TestRisingNoise(t *testing.T) {
	e := readNoise(t).Franco.Ex71
	if len(e.Cases) != 3 {
		t.Fatal("three cases, please")
	}
	c := netlist.New()
	c.Resistor("R1", "p", "0", 1e-6) // makes no noise to speak of
	c.OpAmp("U1", "p", "out", "out", netlist.OpAmp{GainBandwidthHz: 1e15, OpenLoopGain: 1e12, VoltageNoise: e.Enw * 1e-9, VoltageCornerHz: e.Fce})
	for _, row := range e.Cases {
		flat, _, err := integrated(newSolver(t, c, row.FL), c.Node("out"), 300, row.FL, row.FH)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "rising noise", flat*1e6, row.Computed, 1e-4) // four digits
	}
}

// Example 7.7: inverting gain of -2 with an op-amp of 1 MHz, whose noise rises
// towards low frequencies; the book multiplies densities by the noise bandwidth
// 1.57·f_t/3. Example 7.9: its signal-to-noise ratio. The file has no level for
// it; its two figures are those of 1 V peak at the output.
func TestInvertingExample(t *testing.T) {
	n := readNoise(t).Franco
	e, in := n.Ex77, n.Ex77.Inputs
	c := netlist.New()
	c.Resistor("R1", "m", "0", in.R1)
	c.Resistor("R2", "m", "out", in.R2)
	c.Resistor("R3", "p", "0", in.R3)
	c.OpAmp("U1", "p", "m", "out", netlist.OpAmp{GainBandwidthHz: in.Ft, OpenLoopGain: 1e9,
		VoltageNoise: in.Enw, VoltageCornerHz: in.Fce, CurrentNoise: in.Inw, CurrentCornerHz: in.Fci})
	s := newSolver(t, c, in.FL)
	out := c.Node("out")
	sources := s.NoiseSources()
	shares := make([]float64, len(sources))
	var power [3]float64 // resistors, voltage, current
	const perOctave = 64
	for f, step := in.FL, math.Exp2(1.0/perOctave); f < 1e10; f *= step {
		if err := s.At(f * math.Sqrt(step)); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Noise(out, in.T, shares); err != nil {
			t.Fatal(err)
		}
		for i, src := range sources {
			cause := map[nodal.Cause]int{nodal.Thermal: 0, nodal.VoltageNoise: 1, nodal.PlusCurrent: 2, nodal.MinusCurrent: 2}[src.Cause]
			power[cause] += shares[i] * f * (step - 1)
		}
	}
	// The book lets the rising part of the noise end at the noise bandwidth,
	// which counts up to a thousandth.
	const book = 1.5e-3
	near(t, "resistors", 1e6*math.Sqrt(power[0]), e.Computed.R, book)
	near(t, "voltage noise", 1e6*math.Sqrt(power[1]), e.Computed.E, book)
	near(t, "current noise", 1e6*math.Sqrt(power[2]), e.Computed.I, book)
	total, _, err := integrated(s, out, in.T, in.FL, 1e10)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "total", 1e6*total, e.Computed.Total, book)
	near(t, "total as printed", 1e6*total, e.Published.Total, 4e-3) // three digits
	ratio := 20 * math.Log10(math.Sqrt2/2/total)
	if math.Abs(ratio-n.Ex79.Published) > 0.06 || math.Abs(ratio-n.Ex79.Computed) > 0.02 {
		t.Errorf("signal to noise of %.3f dB, want %.4f, printed as %.1f", ratio, n.Ex79.Computed, n.Ex79.Published)
	}
}

// The A weighting at the exact frequencies of IEC 61672-1, from the closed
// form; that file compares it with the standard's table.
func TestAWeighting(t *testing.T) {
	f, err := os.Open("../../golden/published/iec61672_weightings.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 35 || rows[0][2] != "exact_hz" || rows[0][4] != "A_computed_db" {
		t.Fatalf("%d rows, %v", len(rows), rows[0])
	}
	for _, row := range rows[1:] {
		hz, err1 := strconv.ParseFloat(row[2], 64)
		want, err2 := strconv.ParseFloat(row[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(row)
		}
		// Five decimals.
		if got := 20 * math.Log10(nodal.AWeighting(hz)); math.Abs(got-want) > 1.5e-5 {
			t.Errorf("A weighting at %.1f Hz: %.6f dB, want %.5f", hz, got, want)
		}
	}
}

// integrated is the noise at one node.
func integrated(s *nodal.Solver, out netlist.Node, temperatureK, fromHz, toHz float64) (flat, weighted float64, err error) {
	f, w, err := s.IntegratedNoise([]netlist.Node{out}, temperatureK, fromHz, toHz)
	if err != nil {
		return 0, 0, err
	}
	return f[0], w[0], nil
}

// Noise at several nodes is, to the bit, that at each alone: an integral is split as often as
// if no other were worked out beside it.
func TestIntegratedNoiseTogether(t *testing.T) {
	c := netlist.New()
	c.Source("V1", "in", "0", 1)
	c.Resistor("R1", "in", "a", 10e3)
	c.Capacitor("C1", "a", "0", 10e-9)
	c.Resistor("R2", "a", "b", 47e3)
	c.Capacitor("C2", "b", "0", 100e-9)
	c.Resistor("R3", "b", "c", 1e3)
	c.Capacitor("C3", "c", "0", 1e-12)
	outs := []netlist.Node{c.Node("a"), c.Node("b"), c.Node("c")}
	s := newSolver(t, c, 1)
	flat, weighted, err := s.IntegratedNoise(outs, 300, 1, 1e7)
	if err != nil {
		t.Fatal(err)
	}
	for i, out := range outs {
		f, w, err := integrated(s, out, 300, 1, 1e7)
		if err != nil || f != flat[i] || w != weighted[i] {
			t.Errorf("node %d: %g and %g alone, %g and %g together, %v", out, f, w, flat[i], weighted[i], err)
		}
	}
	if flat[0] == flat[1] || flat[1] == flat[2] {
		t.Error("the nodes have the same noise")
	}
}

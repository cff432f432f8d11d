package circuit_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

var stock = circuit.Means{
	Ohm: circuit.Range{From: 1e3, To: 100e3}, ShuntOhm: 150,
	Farad: circuit.Range{From: 1e-9, To: 470e-9},
	OpAmp: netlist.OpAmp{
		GainBandwidthHz: 10e6, OpenLoopGain: 316228, OutputOhm: 50,
		VoltageNoise: 5e-9, CurrentNoise: 0.5e-12, OffsetV: 2e-3, BiasA: 100e-9,
	},
}

func pair(hz, q float64, b ...float64) biquad.Analog {
	s := biquad.Analog{W0: 2 * math.Pi * hz, A: [3]float64{1, 1 / q, 1}}
	copy(s.B[:], b)
	return s
}

func propose(t *testing.T, name string, s biquad.Analog, m circuit.Means) circuit.Proposal {
	t.Helper()
	top, ok := circuit.ByName(name)
	if !ok {
		t.Fatalf("no topology %s", name)
	}
	return top.Propose(s, m)
}

func TestReasonsAreInWords(t *testing.T) {
	slow := stock
	slow.OpAmp.GainBandwidthHz = 100e3
	none := stock
	none.Farad = circuit.Range{From: 1.1e-9, To: 1.2e-9}
	for _, k := range []struct {
		topology string
		section  biquad.Analog
		means    circuit.Means
		want     string
	}{
		{"sallen-key-low-pass", pair(1000, 0.7, 0, 0, 1), stock, "it cannot make a second-order high-pass"},
		{"sallen-key-low-pass", pair(1000, 8, 1), stock, "Q 8 is above 2"},
		{"sallen-key-low-pass", pair(0.5, 0.7, 1), stock, "above the stock's 100 kohm"},
		{"sallen-key-low-pass", pair(20e3, 0.7, 1), slow, "a gain-bandwidth of 100 kHz is too low"},
		{"rc-low-pass", biquad.Analog{W0: 1, B: [3]float64{1}, A: [3]float64{1, 1}}, none, "no capacitor"},
		{"multiple-feedback-band-pass", pair(1000, 0.6, 0, 20), stock, "a peak gain of 12 is above"},
		{"bridged-t", pair(100, 0.7, 1.5, 6, 1), stock, "has to be positive"},
		{"divider", biquad.Constant(2), stock, "its gain is below 1"},
		{"twin-t", pair(100, 0.2, 1, 0, 1), stock, "its Q is at least 1/4"},
		{"tow-thomas", pair(100, 0.7, 1, 0, -1), stock, "a separate all-pass stage"},
		{"follower", biquad.Analog{}, stock, "not finite"},
	} {
		p := propose(t, k.topology, k.section, k.means)
		if p.Applies || !strings.Contains(p.Reason, k.want) {
			t.Errorf("%s: applies %v, %q, want %q", k.topology, p.Applies, p.Reason, k.want)
		}
	}
}

func TestCautionsAreGiven(t *testing.T) {
	loud := stock
	loud.Ohm.From, loud.Ohm.To = 100, 1e6
	for _, k := range []struct {
		topology string
		section  biquad.Analog
		means    circuit.Means
		want     string
	}{
		{"sallen-key-low-pass", pair(19e3, 1.9, 1), stock, "below 100 times the op-amp's output resistance"},
		{"multiple-feedback-band-pass", pair(1000, 7, 0, 1.0/7), loud, "a Q of 5 at most, Q 7"},
		{"multiple-feedback-band-pass", pair(1000, 7, 0, 1.0/7), loud, "noise gain "},
		{"multiple-feedback-band-pass", pair(10e3, 7, 0, 1.0/7), loud, "finite gain-bandwidth moves the response"},
		{"rc-low-pass", biquad.Analog{W0: 2 * math.Pi * 5, B: [3]float64{1}, A: [3]float64{1, 1}}, stock, "adds thermal noise"},
		{"sum-with-band-pass", pair(1000, 2, 1, 0, 1), stock, "limits the notch depth"},
		{"multiple-feedback-high-pass", pair(100, 0.7, 0, 0, 1), stock, "an input with a capacitor loads the stage before it"},
	} {
		p := propose(t, k.topology, k.section, k.means)
		if all := fmt.Sprint(p.Cautions); !p.Applies || !strings.Contains(all, k.want) {
			t.Errorf("%s: applies %v (%s), cautions %q, want %q", k.topology, p.Applies, p.Reason, all, k.want)
		}
	}
}

// With 10 MHz the low- and high-passes of crossovers move by hundredths of a
// decibel at most up to some kHz, and the values are comfortable.
func TestUsualStagesAreGood(t *testing.T) {
	for _, hz := range []float64{60, 260, 2300} {
		for name, s := range map[string]biquad.Analog{
			"sallen-key-low-pass": pair(hz, math.Sqrt2/2, 1), "sallen-key-high-pass": pair(hz, math.Sqrt2/2, 0, 0, 1),
			"multiple-feedback-low-pass": pair(hz, math.Sqrt2/2, 1),
			"state-variable-high-pass":   pair(hz, math.Sqrt2/2, 0, 0, 1), "tow-thomas": pair(hz, 1.3, 1),
		} {
			p := propose(t, name, s, stock)
			if !p.Applies {
				t.Errorf("%s at %g Hz: %s", name, hz, p.Reason)
				continue
			}
			if p.GBWErrorDB > 0.06 {
				t.Errorf("%s at %g Hz: %g dB off through the op-amp", name, hz, p.GBWErrorDB)
			}
			for i, e := range p.Topology.Parts() {
				if e.Kind == netlist.Resistor && p.Values[i] != 0 && (p.Values[i] < 1.5e3 || p.Values[i] > 68e3) {
					t.Errorf("%s at %g Hz: %s is %g", name, hz, e.Ref, p.Values[i])
				}
			}
		}
	}
}

// The noise gain of a multiple-feedback band-pass at its centre is
// 1 + Q²(1+C2/C1), with two resistors.
func TestNoiseGainOfABandPass(t *testing.T) {
	ideal := stock
	ideal.OpAmp = netlist.OpAmp{Ideal: true}
	ideal.Ohm = circuit.Range{From: 10, To: 10e6}
	for _, q := range []float64{1, 3, 5} {
		p := propose(t, "multiple-feedback-band-pass", pair(500, q, 0, 1/q), ideal)
		c1, c2 := p.Values[3], p.Values[4]
		if want := 1 + q*q*(1+c2/c1); math.Abs(p.NoiseGain/want-1) > 1e-9 {
			t.Errorf("Q %g: noise gain %g, want %g (%s)", q, p.NoiseGain, want, p.Reason)
		}
	}
}

func TestEveryProposalIsFinite(t *testing.T) {
	for _, hz := range []float64{1e-6, 1, 1e3, 1e5, 1e9} {
		for _, q := range []float64{1e-3, 0.5, 2, 1e5} {
			for _, b := range [][]float64{{1}, {0, 1}, {0, 0, 1}, {1, 0, 1}, {1, -1 / q, 1}, {2, 1, 1}, {1, 5, 1}, {1e-9, 1, 1e9}, {-1, 2, 3}, {1e300}, {1e-300, 1}} {
				for _, p := range circuit.Candidates(pair(hz, q, b...), stock) {
					for _, v := range append(append([]float64{p.Level, p.GBWErrorDB, p.NoiseGain}, p.Values...), p.Free...) {
						if p.Applies && (math.IsNaN(v) || math.IsInf(v, 0)) {
							t.Fatalf("%s at %g Hz, Q %g, %v: %+v", p.Topology.Name, hz, q, b, p)
						}
					}
					if p.Applies == (p.Reason != "") {
						t.Fatalf("%s: applies %v, reason %q", p.Topology.Name, p.Applies, p.Reason)
					}
				}
			}
		}
	}
}

func BenchmarkClosedForm(b *testing.B) {
	top, _ := circuit.ByName("tow-thomas")
	v := []float64{1e-8, 2e4, 1e-8, 2e4, 1e4, 1e4, 1e4, 1e-8, 1e4, 1e4, 0}
	for b.Loop() {
		top.Closed(v).At(6000)
	}
}

func BenchmarkCandidates(b *testing.B) {
	for b.Loop() {
		circuit.Candidates(pair(260, 0.7, 1), stock)
	}
}

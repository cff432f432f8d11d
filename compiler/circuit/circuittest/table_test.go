package circuittest

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

var update = flag.Bool("update", false, "write the table")

// sample is a section of a shape at 1 kHz: Q 0.71 for low-, high- and
// all-passes and shelves, 3 for what is narrow, both at most maxQ; 6 dB where
// the shape has a level to choose.
func sample(shape circuit.Shape, maxQ float64) biquad.Analog {
	w := 2 * math.Pi * 1000.0
	first := func(b0, b1 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{b0, b1}, A: [3]float64{1, 1}}
	}
	wide := min(math.Sqrt2/2, maxQ)
	narrow := min(3, maxQ)
	second := func(q, b0, b1, b2 float64) biquad.Analog {
		return biquad.Analog{W0: w, Keep: w, B: [3]float64{b0, b1, b2}, A: [3]float64{1, 1 / q, 1}}
	}
	switch shape {
	case circuit.Constant:
		return biquad.Constant(2)
	case circuit.LowPass1:
		return first(1, 0)
	case circuit.HighPass1:
		return first(0, 1)
	case circuit.LowShelf1:
		return first(2, 1)
	case circuit.HighShelf1:
		return first(1, 2)
	case circuit.AllPass1:
		return first(1, -1)
	case circuit.LowPass2:
		return second(wide, 1, 0, 0)
	case circuit.HighPass2:
		return second(wide, 0, 0, 1)
	case circuit.BandPass2:
		return second(narrow, 0, 1/narrow, 0)
	case circuit.Notch2:
		return second(narrow, 1, 0, 1)
	case circuit.LowNotch2:
		return second(narrow, 2, 0, 1)
	case circuit.HighNotch2:
		return second(narrow, 1, 0, 2)
	case circuit.AllPass2:
		return second(wide, 1, -1/wide, 1)
	case circuit.Cut2:
		return second(narrow, 1, 0.5/narrow, 1)
	case circuit.Boost2:
		return second(narrow, 1, 2/narrow, 1)
	case circuit.Shift2:
		return second(wide, 2, math.Sqrt2/wide, 1)
	case circuit.Biquad2:
		return second(wide, 1, 2, 0)
	}
	if shape == circuit.RightHalf1 {
		return first(1, -2)
	}
	return second(wide, 2, -1/wide, 1)
}

// scaled is a section at another level.
func scaled(s biquad.Analog, by float64) biquad.Analog {
	for i := range s.B {
		s.B[i] *= by
	}
	return s
}

// figuresOf are a designed stage's: the sum of the magnitudes of all
// sensitivities of its level to its parts (dB a percent) where it is greatest
// between 20 Hz and 20 kHz and the level is within 20 dB of the peak, the
// noise gain at the section's frequency, and the noise at 1 kHz (nV/√Hz).
func figuresOf(t *testing.T, p circuit.Proposal) (sensitivity, noise float64) {
	t.Helper()
	c := p.Topology.Alone(p.Values, audio)
	out, _ := c.Find("out")
	s, err := nodal.New(c, 1)
	if err != nil {
		t.Fatal(err)
	}
	dst := make([]complex128, len(c.Parts()))
	peak := 0.0
	hz := biquad.OctavesBelow(20, 20e3, 12)
	for _, f := range hz {
		if err := s.At(f); err != nil {
			t.Fatal(err)
		}
		v := s.Voltage(out)
		peak = math.Max(peak, math.Hypot(real(v), imag(v)))
	}
	for _, f := range append(hz, 1000) {
		if err := s.At(f); err != nil {
			t.Fatal(err)
		}
		if v := s.Voltage(out); math.Hypot(real(v), imag(v)) < peak/10 {
			continue
		}
		if err := s.Sensitivities(dst, out); err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i, part := range c.Parts() {
			if part.Kind <= netlist.Capacitor {
				sum += math.Abs(real(dst[i]))
			}
		}
		sensitivity = math.Max(sensitivity, sum*0.01*20/math.Ln10)
	}
	noise, err = s.Noise(out, 300, nil) // at 1 kHz
	if err != nil {
		t.Fatal(err)
	}
	return sensitivity, noise * 1e9
}

// The table for people: what every topology is, for one section of every shape
// that it realises. A stage that gets worse shows.
func TestTable(t *testing.T) {
	var b strings.Builder
	b.WriteString(`Every topology and shape: one section at 1 kHz, 6 dB where it has a level to choose,
Q 0.71 (narrow shapes 3), unrounded parts of the usual stock. Sensitivity: dB for a
percent, all parts at their worst, where within 20 dB of the peak, 20 Hz to 20 kHz.
Noise gain at the section's frequency, noise at 1 kHz with the usual op-amp (10 MHz,
5 nV, 0.5 pA), nV/rtHz.

`)
	fmt.Fprintf(&b, "%-29s %-46s %5s %7s %12s %11s %6s\n", "topology", "shape", "max Q", "op-amps", "sensitivity", "noise gain", "noise")
	for _, top := range circuit.Topologies {
		for _, shape := range top.Realises {
			q := "-"
			if top.MaxQ > 0 {
				q = fmt.Sprint(top.MaxQ)
			}
			fmt.Fprintf(&b, "%-29s %-46s %5s %7d ", top.Name, shape, q, top.OpAmps())
			s := sample(shape, math.Max(top.MaxQ, 0.1))
			p := top.Propose(s, means)
			// Followers, dividers and stages with gain want another level.
			for _, by := range []float64{1, 0.5, 2, 0.25} {
				if !p.Applies {
					p = top.Propose(scaled(s, by), means)
				}
			}
			if !p.Applies {
				p = top.Propose(reciprocal(s), means)
			}
			if !p.Applies {
				t.Errorf("%s: no %v: %s", top.Name, shape, p.Reason)
				continue
			}
			sens, noise := figuresOf(t, p)
			gain := "-"
			if top.OpAmps() > 0 {
				gain = fmt.Sprintf("%.2f", p.NoiseGain)
			}
			fmt.Fprintf(&b, "%12.3f %11s %6.1f\n", sens, gain, noise)
		}
	}
	const path = "testdata/topologies.txt"
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != b.String() {
		t.Errorf("the table has changed: run with -update and see what moved\n%s", b.String())
	}
}

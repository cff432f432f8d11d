package circuittest

import (
	"fmt"
	"math/cmplx"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// boardIsSpice is the agreement expected of a whole board's response.
const boardIsSpice = 1e-9

// A board of every topology that its stages propose for themselves, one behind
// the other in ways of a few, with build-out resistors: some 60 op-amps.
func TestWholeBoardIsNgspice(t *testing.T) {
	c, outs := oneOfEach(t)
	var jobs []Job
	for _, o := range outs {
		jobs = append(jobs, Job{Circuit: c, Out: o, AC: "dec 5 10 100k", Noise: "dec 1 10 10k"})
	}
	s, err := nodal.New(c, 10)
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for i, a := range Run(t, jobs) {
		out := c.Node(outs[i])
		peak := 0.0
		for _, v := range a.AC {
			peak = max(peak, cmplx.Abs(v))
		}
		for k, hz := range a.ACHz {
			if err := s.At(hz); err != nil {
				t.Fatal(err)
			}
			// Deep in a stop band the relative error is that of small differences.
			e := cmplx.Abs(s.Voltage(out)-a.AC[k]) / max(cmplx.Abs(a.AC[k]), 1e-4*peak)
			if worst = max(worst, e); e > boardIsSpice {
				t.Errorf("%s at %g Hz: %v, ngspice %v", outs[i], hz, s.Voltage(out), a.AC[k])
			}
		}
		for k, hz := range a.NoiseHz {
			if err := s.At(hz); err != nil {
				t.Fatal(err)
			}
			if n, _ := s.Noise(out, TemperatureK, nil); n/a.Noise[k]-1 > noiseIsSpice || a.Noise[k]/n-1 > noiseIsSpice {
				t.Errorf("%s at %g Hz: noise %g, ngspice %g", outs[i], hz, n, a.Noise[k])
			}
		}
	}
	t.Logf("%d parts: worst difference %.1e", len(c.Parts()), worst)
}

// oneOfEach is a board of chains of six stages each with a load behind it, in
// which every topology stands once, and its outputs.
func oneOfEach(t *testing.T) (*netlist.Circuit, []string) {
	t.Helper()
	c := netlist.New()
	c.Source("Vin", "in", "0", 1)
	amps, stages := 0, 0
	at, outs := "in", []string{}
	for _, top := range circuit.Topologies {
		if top.Balanced {
			continue
		}
		var p circuit.Proposal
		for _, shape := range top.Realises {
			for _, section := range gentle(shape) {
				if p = top.Propose(section, means); p.Applies {
					break
				}
			}
			if p.Applies {
				break
			}
		}
		if !p.Applies {
			t.Errorf("%s has no gentle section: %s", top.Name, p.Reason)
			continue
		}
		stages++
		n := fmt.Sprint(stages)
		from := at
		top.Place(c, circuit.Names{
			Ref: func(r string) string { return r + "_" + n },
			Node: func(node string) string {
				switch node {
				case "in":
					return from
				case "out":
					return "o" + n
				}
				return node + "_" + n
			},
		}, p.Values, audio)
		amps += top.OpAmps()
		at = "o" + n
		if stages%6 == 0 {
			c.Resistor("Rout"+n, at, "out"+n, 100)
			c.Resistor("Rload"+n, "out"+n, "0", 10e3)
			outs = append(outs, "out"+n)
			at = "in"
		}
	}
	if amps < 40 || len(outs) < 5 {
		t.Fatalf("%d op-amps, %d outputs", amps, len(outs))
	}
	return c, outs
}

// reciprocal is a section with its poles and zeros exchanged.
func reciprocal(s biquad.Analog) biquad.Analog {
	s.A, s.B = s.B, s.A
	return s
}

// gentle are sections of a shape that any usual stage can be.
func gentle(shape circuit.Shape) []biquad.Analog {
	const w, q = 4000, 0.9
	b := map[circuit.Shape][3]float64{
		circuit.LowPass1: {1.5}, circuit.HighPass1: {0, 1.5}, circuit.LowShelf1: {2, 1}, circuit.HighShelf1: {1, 2}, circuit.AllPass1: {1, -1},
		circuit.LowPass2: {1}, circuit.HighPass2: {0, 0, 1}, circuit.BandPass2: {0, 1, 0}, circuit.Notch2: {1, 0, 1}, circuit.AllPass2: {1, -1 / q, 1},
		circuit.Boost2: {1, 1.5 / q, 1}, circuit.Shift2: {2, 1.4 / q, 1},
	}[shape]
	switch {
	case shape == circuit.Constant:
		return []biquad.Analog{biquad.Constant(1), biquad.Constant(1.5), biquad.Constant(0.8)}
	case b == [3]float64{}:
		return nil
	case shape < circuit.LowPass2:
		return []biquad.Analog{{W0: w, Keep: w, B: b, A: [3]float64{1, 1}}}
	}
	s := biquad.Analog{W0: w, Keep: w, B: b, A: [3]float64{1, 1 / q, 1}}
	return []biquad.Analog{s, reciprocal(s)}
}

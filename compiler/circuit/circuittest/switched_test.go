package circuittest

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// perfectOhm is a closed contact for tests of closed forms, which know no contacts, and
// contactIsNone the relative change that it makes beside resistors of a kilohm.
const perfectOhm, contactIsNone = 1e-3, 4e-6

// withContact is the whole circuit of a switched stage with its selector in a position.
func withContact(s *circuit.Switched, state int, v []float64, m netlist.OpAmp) *netlist.Circuit {
	c := s.Alone(v, m)
	if throw := s.States[state].Throw; throw != "" {
		c.Resistor("Sclosed", throw, circuit.Pole, perfectOhm)
	}
	return c
}

// switchedStages are all that there are, some strings of resistors among them.
func switchedStages() map[string]*circuit.Switched {
	out := map[string]*circuit.Switched{}
	for _, t := range circuit.Topologies {
		if t.Opens != "" {
			out[t.Name] = t.Opened()
		}
	}
	for _, n := range []int{2, 3, 9} {
		for _, top := range []bool{false, true} {
			for _, amplifies := range []bool{false, true} {
				out[fmt.Sprintf("%d taps, top %v, amplifies %v", n, top, amplifies)] = circuit.TappedGain(n, top, amplifies)
			}
		}
	}
	for name, sections := range summedSections {
		out[name] = circuit.SwitchedSum(sections)
	}
	for name, sections := range pairedSections {
		out[name] = circuit.SwitchedPair(sections, false)
		out[name+", or none"] = circuit.SwitchedPair(sections, true)
	}
	for name, sections := range tappedSections {
		for of, opAmps := range tapped(sections) {
			what := name
			if opAmps == 1 {
				what += ", with one op-amp"
			}
			out[what] = of.Stage(sections)
		}
	}
	return out
}

// shelf is a second-order shelf by the audio EQ cookbook's formulas, of low frequencies, or with
// high of high ones.
func shelf(hz, db, q float64, high bool) biquad.Analog {
	a := math.Pow(10, db/40)
	n, d := [3]float64{a * a, a * math.Sqrt(a) / q, a}, [3]float64{1, math.Sqrt(a) / q, a}
	if high {
		n, d = [3]float64{n[2], n[1], n[0]}, [3]float64{d[2], d[1], d[0]}
	}
	return biquad.Analog{W0: 2 * math.Pi * hz, B: n, A: d}
}

// bell is a peak by the same formulas.
func bell(hz, db, q float64) biquad.Analog {
	a := math.Pow(10, db/40)
	return biquad.Analog{W0: 2 * math.Pi * hz, B: [3]float64{1, a / q, 1}, A: [3]float64{1, 1 / (a * q), 1}}
}

// summedSections are what a selector picks one of, in each of the ways that there are.
var summedSections = map[string][]biquad.Analog{
	"two low shelves":         {shelf(210, -3, 0.7, false), shelf(240, -6, 0.7, false)},
	"a low shelf up and down": {shelf(100, 3, 0.7, false), shelf(100, -3, 0.7, false)},
	"high shelves and a peak": {shelf(4e3, 2, 0.6, true), bell(1e3, 3, 2), shelf(6e3, -4, 0.8, true)},
	"peaks and a shelf":       {bell(500, -4, 1.5), shelf(90, 4, 0.7, false), bell(2e3, 6, 1)},
}

// pairedSections are a section and its reciprocal, of every kind of filter that makes them, in either order.
var pairedSections = map[string][]biquad.Analog{
	"a low shelf, either way":  {shelf(100, 3, 0.7, false), shelf(100, -3, 0.7, false)},
	"a high shelf, either way": {shelf(5e3, -4, 0.7, true), shelf(5e3, 4, 0.7, true)},
	"a peak, either way":       {bell(800, 6, 1.5), bell(800, -6, 1.5)},
}

// In every position the closed form of a switched stage is that of its whole circuit with
// the contact, by nodal analysis and by ngspice, and so is the state by itself.
func TestStatesAreTheCircuit(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 1))
	var jobs []Job
	var what []string
	var closed []circuit.Ratio
	for _, name := range slices.Sorted(maps.Keys(switchedStages())) {
		s := switchedStages()[name]
		v := anyParts(rng, s.Topology)
		for k, state := range s.States {
			for _, c := range []*netlist.Circuit{withContact(s, k, v, netlist.OpAmp{Ideal: true}), state.Alone(v, netlist.OpAmp{Ideal: true})} {
				jobs = append(jobs, Job{Circuit: c, Out: "out", AC: "dec 3 1 100k"})
				what, closed = append(what, fmt.Sprintf("%s, position %d", name, k+1)), append(closed, state.Closed(v))
			}
		}
	}
	for i, a := range Run(t, jobs) {
		_, h := solved(t, jobs[i].Circuit, a.ACHz)
		for k, f := range a.ACHz {
			want := closed[i].At(2 * math.Pi * f)
			if e := cmplx.Abs(h[k]-want) / cmplx.Abs(want); !(e <= contactIsNone) {
				t.Errorf("%s at %g Hz: closed form %v, nodal %v", what[i], f, want, h[k])
			}
			if e := cmplx.Abs(a.AC[k]-want) / cmplx.Abs(want); !(e <= contactIsNone) {
				t.Errorf("%s at %g Hz: closed form %v, ngspice %v", what[i], f, want, a.AC[k])
			}
		}
	}
}

// What Opens names leaves a stage that is exactly flat: whatever its values are, with the
// element at any end of the stock, the response has one level.
func TestOpenedStagesAreFlat(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 2))
	n := 0
	for _, top := range circuit.Topologies {
		if top.Opens == "" {
			continue
		}
		n++
		for range samples {
			h := top.Opened().States[1].Closed(anyParts(rng, top))
			level := h.At(0)
			for _, w := range []float64{1, 100, 1e3, 1e4, 1e6} {
				if e := cmplx.Abs(h.At(w)/level - 1); e > 1e-12 {
					t.Errorf("%s without %s: %v at 0, %v at %g rad/s", top.Name, top.Opens, level, h.At(w), w)
				}
			}
		}
	}
	if n < 7 {
		t.Errorf("%d topologies have an element that may be opened", n)
	}
}

// The design of a string has every gain, whatever loads its tap.
func TestStringsAreDesigned(t *testing.T) {
	for _, k := range []struct {
		gains     []float64
		top       bool
		amplifier float64
	}{
		{[]float64{1, 0.8, 0.5}, false, 1}, {[]float64{0.9, 0.3}, true, 1},
		{[]float64{1.6, 1.2, 1, 0.9, 0.1}, false, 1.6}, {[]float64{1.6, 1.2, 1, 0.9, 0.1}, true, 1.7},
	} {
		const pole = 47e3
		v := append(circuit.DesignTapped(k.gains, k.top, k.amplifier, 12e3, pole), pole)
		if k.amplifier > 1 {
			v = append(v, 10e3/(k.amplifier-1), 10e3)
		}
		s := circuit.TappedOf(len(k.gains), len(v))
		for i, g := range k.gains {
			if h := s.States[i].Closed(v).At(0); math.Abs(real(h)/g-1) > 1e-12 {
				t.Errorf("%v: tap %d is %v", k.gains, i+1, h)
			}
		}
	}
}

// A switched sum with the unrounded values of each section's own design is each section in its
// position, and the inverted signal with none; what is not 1 at either end has no such stage.
func TestSumsAreTheirSections(t *testing.T) {
	for name, sections := range summedSections {
		s := circuit.SwitchedSum(sections)
		v := make([]float64, len(s.Parts()))
		for i, section := range sections {
			p := circuit.SummedOf(section).Propose(section, means)
			if !p.Applies {
				t.Fatal(name, i, p.Reason)
			}
			for k, at := range circuit.SummedParts(sections, i) {
				v[at] = p.Values[k]
			}
		}
		if n := s.OpAmps(); n != len(sections)+1 || len(s.States) != n {
			t.Errorf("%s: %d op-amps, %d states", name, n, len(s.States))
		}
		for _, hz := range []float64{1, 30, 100, 220, 500, 1e3, 3e3, 1e4, 1e5} {
			w := 2 * math.Pi * hz
			for i, section := range sections {
				if h, want := s.States[i].Closed(v).At(w), -section.At(w); cmplx.Abs(h/want-1) > 1e-9 {
					t.Errorf("%s, %d at %g Hz: %v, want %v", name, i+1, hz, h, want)
				}
			}
			if h := s.States[len(sections)].Closed(v).At(w); cmplx.Abs(h+1) > 1e-12 {
				t.Errorf("%s, none at %g Hz: %v", name, hz, h)
			}
		}
	}
	shifted := shelf(100, 3, 0.7, false)
	shifted.B[0], shifted.B[1], shifted.B[2] = 1.1*shifted.B[0], 1.1*shifted.B[1], 1.1*shifted.B[2]
	for _, none := range []biquad.Analog{biquad.Constant(2), shifted, {W0: 1000, B: [3]float64{1}, A: [3]float64{1, 1, 1}}} {
		if circuit.SummedOf(none) != nil || circuit.SwitchedSum([]biquad.Analog{none}) != nil {
			t.Errorf("%v is summed", none)
		}
	}
}

// A switched pair with the unrounded values of the design of one of its sections is either section in
// its position, with two op-amps; whatever its values are, as long as the sum's resistors are equal,
// the product of both is 1, and the third state is flat.
func TestPairsAreReciprocals(t *testing.T) {
	rng := rand.New(rand.NewPCG(16, 3))
	hz := []float64{1, 30, 100, 220, 500, 1e3, 3e3, 1e4, 1e5}
	for name, sections := range pairedSections {
		s := circuit.SwitchedPair(sections, true)
		of := circuit.PairOf(sections)
		if s.OpAmps() != 2 || len(s.States) != 3 || len(circuit.SwitchedPair(sections, false).States) != 2 {
			t.Errorf("%s: %d op-amps, %d states", name, s.OpAmps(), len(s.States))
		}
		for i, section := range sections {
			if circuit.SummedOf(section) != of {
				continue
			}
			p := of.Propose(section, means)
			if !p.Applies {
				t.Fatal(name, i, p.Reason)
			}
			v := append(p.Values, 100e3)
			for _, f := range hz {
				for k := range sections {
					if h, want := s.States[k].Closed(v).At(2*math.Pi*f), -sections[k].At(2*math.Pi*f); cmplx.Abs(h/want-1) > 1e-9 {
						t.Errorf("%s, %d at %g Hz: %v, want %v", name, k+1, f, h, want)
					}
				}
			}
		}
		parts := len(of.Parts())
		for range samples {
			v := anyParts(rng, s.Topology)
			v[parts-3] = v[parts-1] // Ra and Rf
			for _, f := range hz {
				up, down, flat := s.States[0].Closed(v).At(2*math.Pi*f), s.States[1].Closed(v).At(2*math.Pi*f), s.States[2].Closed(v).At(2*math.Pi*f)
				if cmplx.Abs(up*down-1) > 1e-9 || flat != -1 {
					t.Errorf("%s with %v at %g Hz: %v times %v, flat %v", name, v, f, up, down, flat)
				}
			}
		}
	}
	for what, none := range map[string][]biquad.Analog{
		"one section":           {bell(800, 6, 1.5)},
		"two boosts":            {bell(800, 6, 1.5), bell(900, 3, 1.5)},
		"a shelf and a peak":    {shelf(100, 3, 0.7, false), bell(100, -3, 1)},
		"a low and a high":      {shelf(100, 3, 0.7, false), shelf(100, -3, 0.7, true)},
		"a gain and a peak":     {biquad.Constant(2), bell(800, 6, 1.5)},
		"three of the same":     {bell(800, 6, 1.5), bell(800, -6, 1.5), bell(800, 3, 1.5)},
		"two cuts of one shelf": {shelf(100, -3, 0.7, false), shelf(100, -6, 0.7, false)},
	} {
		if circuit.SwitchedPair(none, true) != nil {
			t.Errorf("%s is a pair", what)
		}
	}
}

// A switched-pair, designed and with a real op-amp, must not oscillate in any position: where the sum's
// own output feeds the filter there is a loop around both op-amps, which the response alone would not show.
func TestPairsAreStable(t *testing.T) {
	wide := means
	wide.Ohm, wide.Farad = circuit.Range{From: 10, To: 10e6}, circuit.Range{From: 10e-12, To: 10e-6}
	for _, hz := range []float64{40, 800, 5e3, 15e3} {
		for _, db := range []float64{-12, -3, 1, 6, 12} {
			for name, sections := range map[string][]biquad.Analog{
				"low shelf":  {shelf(hz, db, 0.7, false), shelf(hz, -db, 0.7, false)},
				"high shelf": {shelf(hz, db, 0.7, true), shelf(hz, -db, 0.7, true)},
				"peak":       {bell(hz, db, 1.5), bell(hz, -db, 1.5)},
			} {
				of := circuit.PairOf(sections)
				s := circuit.SwitchedPair(sections, true)
				forward := sections[0]
				if circuit.SummedOf(forward) != of {
					forward = sections[1]
				}
				v := of.Propose(forward, wide).Values
				if v == nil {
					t.Fatalf("%s of %g dB at %g Hz has no values", name, db, hz)
				}
				if len(v) < len(s.Parts()) {
					v = append(slices.Clone(v), 100e3) // ohm, what holds the filter
				}
				for k := range s.States {
					if z := worstPole(t, withContact(s, k, v, audio)); real(z) >= 0 {
						t.Errorf("%s of %g dB at %g Hz, position %d oscillates: pole %v with parts %v", name, db, hz, k+1, z, v)
					}
				}
			}
		}
	}
}

// worstPole is the natural frequency of a circuit farthest to the right, rad/s.
func worstPole(t *testing.T, c *netlist.Circuit) complex128 {
	t.Helper()
	s, err := nodal.New(c, 1)
	if err != nil {
		t.Fatal(err)
	}
	poles, err := s.Poles()
	if err != nil || len(poles) == 0 {
		t.Fatalf("%d poles: %v", len(poles), err)
	}
	return slices.MaxFunc(poles, func(a, b complex128) int { return cmp.Compare(real(a), real(b)) })
}

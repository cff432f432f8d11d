package circuittest

import (
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
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
	return out
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

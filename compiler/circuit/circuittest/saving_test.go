package circuittest

import (
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// What does with one op-amp what others do with two has two ways of feedback around it: with a real op-amp
// none of its natural frequencies may be in the right half plane.
func TestSavingStagesAreStable(t *testing.T) {
	wide := means
	wide.Ohm, wide.Farad = circuit.Range{From: 10, To: 10e6}, circuit.Range{From: 10e-12, To: 10e-6}
	tried := map[string]int{}
	for _, hz := range []float64{40, 800, 5e3, 15e3} {
		for _, q := range []float64{0.7, 1.5, 3} {
			sections := []biquad.Analog{}
			for _, db := range []float64{-12, -3, -1, 1, 3, 6} {
				sections = append(sections, bell(hz, db, q))
			}
			flat := bell(hz, 1, q)
			notch, allPass := flat, flat
			notch.B = [3]float64{notch.A[0], 0, notch.A[2]}
			allPass.B = [3]float64{allPass.A[0], -allPass.A[1], allPass.A[2]}
			for _, s := range append(sections, notch, allPass) {
				for _, top := range circuit.Topologies {
					if v := top.Propose(s, wide).Values; top.Saves && v != nil {
						tried[top.Name]++
						if z := worstPole(t, top.Alone(v, audio)); real(z) >= 0 {
							t.Errorf("%s for %v oscillates: pole %v with parts %v", top.Name, s, z, v)
						}
					}
				}
			}
		}
	}
	for _, top := range circuit.Topologies {
		if top.Saves && tried[top.Name] < 12 {
			t.Errorf("%s: tried %d times only", top.Name, tried[top.Name])
		}
	}
}

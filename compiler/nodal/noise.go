package nodal

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/compiler/netlist"
)

// Cause says which noise of a part a contribution comes from.
type Cause uint8

// The causes of noise.
const (
	Thermal      Cause = iota // of a resistor
	VoltageNoise              // of an op-amp
	PlusCurrent               // of an op-amp's + input
	MinusCurrent              // of an op-amp's - input
)

// NoiseSource is one independent source of noise.
type NoiseSource struct {
	Part  int // index into the circuit's parts
	Cause Cause
}

// NoiseSources lists the circuit's sources of noise, part by part: the
// order of the contributions that Noise gives.
func (s *Solver) NoiseSources() []NoiseSource {
	var out []NoiseSource
	for i, p := range s.parts {
		switch {
		case p.Kind == netlist.Resistor || p.Kind == netlist.Contact:
			out = append(out, NoiseSource{i, Thermal})
		case p.Kind == netlist.Amplifier && !p.Model.Ideal:
			out = append(out, NoiseSource{i, VoltageNoise}, NoiseSource{i, PlusCurrent}, NoiseSource{i, MinusCurrent})
		}
	}
	return out
}

var errUnsolved = errors.New("nodal: no solution at a frequency yet")

// transfer solves the adjoint equations for a node's voltage: element i of
// s.adjoint is then that voltage's change for a unit on the right-hand side of
// equation i (Director, Rohrer, IEEE Trans. Circuit Theory 16, 1969).
func (s *Solver) transfer(p *plan, out netlist.Node) {
	clear(s.work)
	clear(s.adjoint)
	if !s.knows(out) {
		return
	}
	s.work[unknown(out)] = 1
	s.transposed(p, s.work, s.adjoint)
}

// Noise is the density (V/√Hz) of the noise at a node at the frequency of the
// present solution, with the circuit at temperatureK (K). Where shares is not
// nil it receives each source's contribution (V²/Hz) in the order of
// NoiseSources, as far as it is long.
func (s *Solver) Noise(out netlist.Node, temperatureK float64, shares []float64) (float64, error) {
	if s.hz < 0 {
		return 0, errUnsolved
	}
	s.transfer(s.ac, out)
	total, k := 0.0, 0
	put := func(v float64) {
		if k < len(shares) {
			shares[k] = v
		}
		total += v
		k++
	}
	for i, p := range s.parts {
		switch {
		case p.Kind == netlist.Resistor || p.Kind == netlist.Contact:
			// A current of 4kT/R between the ends; rows of currents are scaled by
			// unitOhm.
			h := square(s.across(s.adjoint, p.Nodes[0], p.Nodes[1])) * unitOhm * unitOhm
			put(h * 4 * netlist.Boltzmann * temperatureK / p.Value)
		case p.Kind == netlist.Amplifier && !p.Model.Ideal:
			m := p.Model
			put(square(s.adjoint[s.branch[i]]) * m.VoltagePower(s.hz))
			in := m.CurrentPower(s.hz) * unitOhm * unitOhm
			put(square(s.across(s.adjoint, p.Nodes[0], netlist.Ground)) * in)
			put(square(s.across(s.adjoint, p.Nodes[1], netlist.Ground)) * in)
		}
	}
	return math.Sqrt(total), nil
}

func square(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

// NoiseGain is the factor by which an op-amp's input noise voltage appears at
// a node at the frequency of the present solution, with phase.
func (s *Solver) NoiseGain(out netlist.Node, opAmp int) (complex128, error) {
	if s.hz < 0 {
		return 0, errUnsolved
	}
	if opAmp < 0 || opAmp >= len(s.parts) || s.parts[opAmp].Kind != netlist.Amplifier {
		return 0, fmt.Errorf("nodal: part %d is no op-amp", opAmp)
	}
	s.transfer(s.ac, out)
	return s.adjoint[s.branch[opAmp]], nil
}

// IntegratedNoise is the RMS noise voltage (V) at each of some nodes from fromHz to toHz,
// flat and A-weighted, with the circuit at temperatureK (K). The density is integrated over
// the logarithm of frequency; the nodes share the solutions.
func (s *Solver) IntegratedNoise(outs []netlist.Node, temperatureK, fromHz, toHz float64) (flat, weighted []float64, err error) {
	if !(fromHz > 0) || !(toHz > fromHz) {
		return nil, nil, errors.New("nodal: noise is integrated from a positive frequency up to a higher one")
	}
	at := func(x float64, which []int, dst []pair) {
		hz := math.Exp2(x)
		if err == nil {
			err = s.At(hz)
		}
		if err != nil {
			return
		}
		a := AWeighting(hz)
		for _, k := range which {
			n, _ := s.Noise(outs[k], temperatureK, nil)
			dst[k] = pair{n * n * hz, n * n * hz * a * a}
		}
	}
	sums := adaptive(len(outs), at, math.Log2(fromHz), math.Log2(toHz))
	if err != nil {
		return nil, nil, err
	}
	for _, sum := range sums {
		// dHz = Hz·ln 2·d(log2 Hz).
		flat, weighted = append(flat, math.Sqrt(math.Ln2*sum.flat)), append(weighted, math.Sqrt(math.Ln2*sum.weighted))
	}
	return flat, weighted, nil
}

// AWeighting is the linear gain of the A weighting of IEC 61672-1 at hz,
// 1 at 1 kHz: four poles at 20.6 Hz and 12.2 kHz in pairs, 107.7 Hz and
// 737.9 Hz, four zeros at 0 Hz (annex E of that standard derives the pole
// frequencies; the digits here are recomputed from it).
func AWeighting(hz float64) float64 { return aShape(hz) / aShape(1000) }

func aShape(hz float64) float64 {
	const f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
	s := complex(0, hz)
	h := s * s * s * s / ((s + f1) * (s + f1) * (s + f2) * (s + f3) * (s + f4) * (s + f4))
	return cmplx.Abs(h)
}

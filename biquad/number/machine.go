package number

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// Machine runs the emitted kernel for one channel, bit for bit: the programs of
// the format's Kernel.
//
// An input sample is multiplied by the input word once and goes through the
// common delay and sections. Each way then multiplies by its gain with the
// polarity as sign, delays, and runs its own sections. A Machine is for one
// goroutine.
type Machine struct {
	simulation simulation
	choices    []int
	ways       int
}

// simulation is a Machine in one type of the host's.
type simulation interface {
	reset()
	set(c biquad.Combination)
	run(in []float64, out [][]float64)
}

// NewMachine builds the simulation of a quantised system, set to the first
// choice of every setting. choices is the number of choices of each setting of
// the spec; inputGain (linear) is the attenuation at the input.
func (f Format) NewMachine(s biquad.System[biquad.Digital], inputGain, rateHz float64, choices []int) *Machine {
	m := &Machine{simulation: f.simulate(f, s, inputGain, rateHz), choices: slices.Clone(choices), ways: len(s.Ways)}
	m.simulation.set(make(biquad.Combination, len(choices)))
	return m
}

// InputWord is the word that the kernel multiplies every input sample by:
// inputGain (linear) times the common gain.
func (f Format) InputWord(s biquad.System[biquad.Digital], inputGain float64) float64 {
	return f.Round(float64(inputGain * s.Common.Gain))
}

// WayWord is the word that the kernel multiplies a way by: its gain with the
// polarity as sign.
func (f Format) WayWord(w biquad.Way[biquad.Digital]) float64 {
	return f.Round(float64(w.Gain * w.Polarity))
}

// DelaySamples is a cascade's pure delay in whole samples.
func DelaySamples(c biquad.Cascade[biquad.Digital], rateHz float64) int {
	return int(float64(c.DelayS*rateHz) + 0.5)
}

// Row is the six numbers that the kernel keeps of a section.
type Row struct{ C, B0, B1, B2, A1, A2 float64 }

// rowOf is a section's row as it stands. A section without memory has c = 0
// whatever its form, so that it can hold nothing.
func rowOf(d biquad.Digital) Row {
	c := float64(d.Form)
	if d.Order() == 0 {
		c = 0
	}
	return Row{C: c, B0: d.B[0], B1: d.B[1], B2: d.B[2], A1: d.A[1], A2: d.A[2]}
}

// Rows are the rows of a position's alternatives at a sampling rate (Hz).
//
// A constant g that a setting may switch to would jump there. Its row is
// therefore g·(z-r)/(z-r), with r = 1 - GlideStep: after a switch what was left
// of the section before fades by that pole. Because the step is a power of two,
// b1 = g·step and every product with it are exact: from a reset the state stays
// zero and the output is the rounded g·x, to the bit.
func Rows(s biquad.Slot[biquad.Digital], rateHz float64) []Row {
	var rows []Row
	for _, d := range s.Alt {
		r := rowOf(d)
		if len(s.Alt) > 1 && d.Order() == 0 {
			step := GlideStep(rateHz)
			r = Row{C: 1, B0: r.B0, B1: r.B0 * step, A1: step}
		}
		rows = append(rows, r)
	}
	return rows
}

// glideHz is the corner, within half an octave, of the fade to a constant: a
// time constant of 5 ms, as short as leaves the fade without content that
// sounds like a click.
const glideHz = 30

// GlideStep is the power of two nearest, in octaves, to 2π·30 Hz over the rate
// (Hz).
func GlideStep(rateHz float64) float64 {
	return math.Exp2(-math.Round(math.Log2(rateHz / (2 * math.Pi * glideHz))))
}

// Reset clears every state and delay line. The settings stay, and one that was
// waiting for its switch takes effect.
func (m *Machine) Reset() { m.simulation.reset() }

// Set asks for a combination of settings. Before the first sample after a
// reset it applies at once. Later every position whose section changes runs two more
// samples with the old one; its state then becomes what the new section would
// hold had it produced those two outputs from those two inputs, so that the
// output goes on without a jolt. The choices that are set already change nothing. Set reports false, and does nothing, where
// the combination has a choice that does not exist.
func (m *Machine) Set(c biquad.Combination) bool {
	if len(c) != len(m.choices) {
		return false
	}
	for i, k := range c {
		if int(k) >= m.choices[i] {
			return false
		}
	}
	m.simulation.set(slices.Clone(c))
	return true
}

// Run filters the samples of in, each rounded to a word first, and returns one
// slice a way.
func (m *Machine) Run(in []float64) [][]float64 {
	out := make([][]float64, m.ways)
	for i := range out {
		out[i] = make([]float64, len(in))
	}
	m.simulation.run(in, out)
	return out
}

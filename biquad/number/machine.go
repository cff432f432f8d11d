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
// common sections. Each way then waits for the common delay and its own, multiplies
// by its gain with the polarity as sign and runs its own sections. A Machine is for one
// goroutine.
type Machine struct {
	simulation simulation
	choices    []int
	ways       int
}

// simulation is a Machine in one type of the host's.
type simulation interface {
	reset()
	restart()
	set(c biquad.Combination)
	mute(on bool)
	garbage() bool
	run(in []float64, out [][]float64)
	behind(outputs int)
	clone() simulation
}

// NewMachine builds the simulation of a quantised system, of channel 0, set to the first
// choice of every setting. choices is the number of choices of each setting of
// the spec; inputGain (linear) is the attenuation at the input, fadeS how long a
// fade takes (s).
func (f Format) NewMachine(s biquad.System[biquad.Digital], inputGain, rateHz, fadeS float64, choices []int) *Machine {
	m := &Machine{simulation: f.simulate(f, Arranged(s), inputGain, rateHz, fadeS), choices: slices.Clone(choices), ways: len(s.Ways)}
	m.simulation.set(make(biquad.Combination, len(choices)))
	return m
}

// Clone is a machine that has heard the same, and goes on by itself.
func (m *Machine) Clone() *Machine {
	t := *m
	t.simulation = m.simulation.clone()
	return &t
}

// InputWord is the word that the kernel multiplies every input sample by:
// inputGain (linear) times the common gain, over 2 to the power of GuardBits.
func (f Format) InputWord(s biquad.System[biquad.Digital], inputGain float64) float64 {
	return f.Round(math.Ldexp(float64(inputGain*s.Common.Gain), -f.GuardBits))
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

// Late is how many samples each cascade waits for its input, the common one first, which never does: the
// common delay and a way's own are in front of the way. So all ways remember the same samples.
func Late(s biquad.System[biquad.Digital], rateHz float64) []int {
	out := []int{0}
	for _, w := range s.Ways {
		out = append(out, DelaySamples(s.Common, rateHz)+DelaySamples(w.Cascade, rateHz))
	}
	return out
}

// Row is a section as the kernel keeps it: its form, and five words.
type Row struct {
	Form               biquad.Form
	B0, B1, B2, A1, A2 float64
}

// rowOf is a section's row. A section without memory is direct whatever its
// form, so that it can hold nothing.
func rowOf(d biquad.Digital) Row {
	form := d.Form
	if d.Order() == 0 {
		form = biquad.Direct
	}
	return Row{Form: form, B0: d.B[0], B1: d.B[1], B2: d.B[2], A1: d.A[1], A2: d.A[2]}
}

// Constant reports whether the row is its b0 alone.
func (r Row) Constant() bool { return r == Row{Form: r.Form, B0: r.B0} }

// Through reports whether the kernel passes over the row: it changes nothing.
func (r Row) Through() bool { return r == Row{B0: 1} }

// Rows are the rows of a position's alternatives.
func Rows(s biquad.Slot[biquad.Digital]) []Row {
	var rows []Row
	for _, d := range s.Alt {
		rows = append(rows, rowOf(d))
	}
	return rows
}

// OfChannel makes it the simulation of another channel, at its start: all that is
// different is the dither.
func (m *Machine) OfChannel(k int) { m.simulation.behind(k * m.ways) }

// Reset begins anew: silence in every state and delay line, then a fade from
// silence with the choices that are asked for.
func (m *Machine) Reset() { m.simulation.reset() }

// Restart is the reset of a channel whose neighbours go on: it begins at the next
// Tick of all.
func (m *Machine) Restart() { m.simulation.restart() }

// Set asks for a combination of settings. Before the first sample it applies
// at once. Later, from the next Tick on at which no change is going on, sections
// with the new choices run as well, first unheard until they have settled; then
// what is heard fades over to them. Set reports false, and does nothing, where the
// combination has a choice that does not exist.
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

// Mute asks for silence, or for an end of it: a fade from the next Tick on at
// which none is going on.
func (m *Machine) Mute(on bool) { m.simulation.mute(on) }

// Garbage reports whether a sample was no number, or far beyond any that
// filters are for. The channel is silent from that sample on until it is reset.
func (m *Machine) Garbage() bool { return m.simulation.garbage() }

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

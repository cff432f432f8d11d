package stage

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// Candidate is a stage with values in stock.
type Candidate struct {
	Topology *circuit.Topology
	Section  biquad.Analog
	// Values are in the order of Topology.Parts, in stock; 0 for a part that is not
	// fitted.
	Values []float64
	// Level is the wanted response of the stage divided by that of the section:
	// negative where it inverts, of magnitude 1 unless the topology's level is
	// fixed. Another stage makes up for it. It is the same for all candidates of
	// one topology and section.
	Level float64
	// ErrorDB is the largest error in dB of the stage with ideal op-amps against
	// Level·Section, over the band: of the magnitude, or for all-passes
	// 8.686·|H/H0-1|.
	ErrorDB float64
	// Measures are with the real op-amp; Measured says whether they were taken.
	Measures
	Measured bool
	// Score is the sum of what speaks against the stage, in points; see score.go.
	Score float64
}

// Measures are what a stage does with the real op-amp.
type Measures struct {
	// RealDB is as ErrorDB, with the real op-amp, where the response is within the
	// band's DownDB, or 40 dB where that is 0, of its peak.
	RealDB float64
	// NoiseV is the noise density (V/√Hz) at the output at the natural frequency,
	// of resistors and op-amps; 1 kHz for a gain.
	NoiseV float64
	// NoiseGain is by how much the input noise voltage of the op-amp that works
	// hardest appears at the output, at the natural frequency.
	NoiseGain float64
	// Swing is the largest magnitude in the band of any op-amp's output for 1 V at the
	// input.
	Swing float64
	// SpreadDB is the greatest standard deviation (dB) of the response's level from board
	// to board, to the first order, where it is within spreadDownDB of its peak; 0 for a
	// stock that does not say how far parts are off.
	SpreadDB float64
	// InputOhm is the smallest magnitude of the input impedance in the band, 1e12
	// where no current flows.
	InputOhm float64
	// DrivenOhm is the least impedance that an op-amp of the stage drives in the band, other
	// stages aside: the swing of the one that swings furthest, the input's at least, over the
	// largest current of any; 1e12 at most.
	DrivenOhm float64
	// InputFarad is the capacitance at the input (F, ≥ 0) one or two decades below the
	// op-amp's gain-bandwidth, where a load costs phase margin.
	InputFarad float64
	// own is the noise and the DC of the stage at its own output, and peak the largest
	// magnitude of the wanted response in the band.
	own  loud
	peak float64
}

// MostExact is the index of the candidate with the smallest error, with the real
// op-amp where that was measured.
func MostExact(all []Candidate) int {
	best, least := 0, math.Inf(1)
	for i, c := range all {
		db := c.ErrorDB
		if c.Measured {
			db = c.RealDB
		}
		if db < least-scoreStep {
			best, least = i, db
		}
	}
	return best
}

// Points is what speaks against a measured candidate beside its error; 0 where it was
// not measured.
func (c *Candidate) Points() float64 {
	if !c.Measured {
		return 0
	}
	return c.Score - pointsPerDB*c.RealDB
}

// Fitted lists the values of the parts that are fitted: resistors as they are
// (ohm), capacitors negative (farad), so that both go into one set.
func (c *Candidate) Fitted() []float64 {
	var out []float64
	for i, e := range c.Topology.Parts() {
		switch v := c.Values[i]; {
		case v == 0:
		case e.Kind == netlist.Capacitor:
			out = append(out, -v)
		default:
			out = append(out, v)
		}
	}
	return out
}

// Comfort is small for values near the usual ones: the sum of squared octaves.
func (c *Candidate) Comfort() float64 { return comfort(c.Topology.Parts(), c.Values) }

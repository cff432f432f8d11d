package stage

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// Behind is what a stage's signal still goes through: Gain is the magnitude of the response
// from the stage's output to that of its way at a frequency (Hz), 0 Hz included; nil stands for 1.
type Behind struct{ Gain func(hz float64) float64 }

// Without is what stands behind but for a gain.
func (b Behind) Without(gain float64) Behind {
	return Behind{Gain: func(hz float64) float64 {
		if b.Gain == nil {
			return math.Abs(1 / gain)
		}
		return math.Abs(b.Gain(hz) / gain)
	}}
}

// over is the gain at 0 Hz and then at each of hz.
func (b Behind) over(hz []float64) []float64 {
	out := make([]float64, len(hz)+1)
	for i := range out {
		switch {
		case b.Gain == nil:
			out[i] = 1
		case i == 0:
			out[i] = b.Gain(0)
		default:
			out[i] = b.Gain(hz[i-1])
		}
	}
	return out
}

// Added is what one stage adds to its way's output.
type Added struct {
	// NoiseV2 is the power of its noise (V², RMS squared, 20 Hz to 20 kHz, unweighted);
	// powers of the stages of a way add up.
	NoiseV2 float64
	// OffsetV is the DC voltage (V) of its op-amps' offsets and bias currents, each at its
	// worst sign; those of the stages of a way add up.
	OffsetV float64
}

// Adds lists what candidates of one section add to the output of the way behind them, with
// the real op-amp: nothing of it needs Measure, and it takes a fifth of its time.
// Neighbours of one topology share a solver. The noise is within some 2 % of the exact
// integral.
func (b *Bench) Adds(all []Candidate, behind Behind) ([]Added, error) {
	out := make([]Added, len(all))
	var r *rig
	for i := range all {
		c := &all[i]
		if i == 0 || c.Topology != all[i-1].Topology {
			r = newRig(c.Topology, b.Means.OpAmp, b.Band.FromHz)
		}
		if err := r.set(c.Values); err != nil {
			return nil, err
		}
		hz := noiseHz(c.Section)
		a, err := r.alone(hz)
		if err != nil {
			return nil, err
		}
		out[i] = a.through(behind.over(hz))
	}
	return out, nil
}

const (
	// noiseFromHz and noiseToHz are what noise is summed over, as that of boards is.
	noiseFromHz, noiseToHz = 20.0, 20e3
	// noisePerOctave is how many frequencies of an octave the density is looked at: it
	// follows the gain behind and the stage's own, which change by a few dB between them.
	noisePerOctave = 2
	// resonant is the Q above which the density has a peak of its own.
	resonant = 1.0
)

// noiseHz lists the frequencies (Hz, ascending) at which the noise of stages of a section
// is looked at: the ends, a grid, and where the section resonates.
func noiseHz(section biquad.Analog) []float64 {
	var own []float64
	if w, q := section.Natural(); w > 0 && q > resonant {
		f := w / (2 * math.Pi)
		for _, x := range [...]float64{-1, -0.5, -0.2, 0, 0.2, 0.5, 1} {
			own = append(own, f*math.Exp2(x/q))
		}
	}
	return biquad.Octaves(noiseFromHz, noiseToHz, noisePerOctave, own...)
}

// loud is the noise and the DC of a stage at its own output.
type loud struct {
	hz      []float64
	density []float64 // V²/Hz at hz
	offsetV float64
}

// alone is the noise, at some frequencies, and the DC of the stage that is set.
func (r *rig) alone(hz []float64) (loud, error) {
	x := loud{hz: hz, density: make([]float64, len(hz))}
	if len(r.opAmps) == 0 && len(r.t.Parts()) == 0 {
		return x, nil
	}
	for i, f := range hz {
		if err := r.solver.At(f); err != nil {
			return x, err
		}
		v, err := r.solver.Noise(r.out, roomK, nil)
		if err != nil {
			return x, err
		}
		x.density[i] = v * v
	}
	dc, err := r.solver.Offsets(r.out)
	x.offsetV = dc.Worst
	return x, err
}

// through is what is left of it behind some gain, at 0 Hz and then at each of its
// frequencies: the density is integrated over the logarithm of frequency by the
// trapezoidal rule.
func (x loud) through(gain []float64) Added {
	a := Added{OffsetV: x.offsetV * gain[0]}
	before := 0.0
	for i, f := range x.hz {
		g := gain[i+1]
		now := x.density[i] * f * g * g
		if i > 0 {
			a.NoiseV2 += (now + before) / 2 * math.Log(f/x.hz[i-1])
		}
		before = now
	}
	return a
}

// over is it behind a stage that divides by level.
func (a Added) over(level float64) Added {
	return Added{NoiseV2: a.NoiseV2 / (level * level), OffsetV: a.OffsetV / level}
}

// Capacitance is the sum of a candidate's capacitors and the largest of them (F).
func (c *Candidate) Capacitance() (sumF, largestF float64) {
	for _, v := range c.farads() {
		sumF, largestF = sumF+v, math.Max(largestF, v)
	}
	return sumF, largestF
}

// Bulk is what a candidate's capacitors cost in space and money, in the price of one of
// largeFarad: a film capacitor's price hardly grows up to there, and with its capacitance
// above. The bulks of stages add up.
func (c *Candidate) Bulk() float64 { return bulk(c.Topology.Parts(), c.Values) }

// largeFarad (F) is from where a film capacitor gets bulky and dear.
const largeFarad = 100e-9

// bulk is the sum of log2(1+C/largeFarad).
func bulk(elements []circuit.Element, v []float64) float64 {
	sum := 0.0
	for i, e := range elements {
		if e.Kind == netlist.Capacitor && v[i] > 0 {
			sum += math.Log2(1 + v[i]/largeFarad)
		}
	}
	return rounded(sum)
}

// farads lists a candidate's capacitors (F).
func (c *Candidate) farads() []float64 {
	var out []float64
	for i, e := range c.Topology.Parts() {
		if e.Kind == netlist.Capacitor && c.Values[i] != 0 {
			out = append(out, c.Values[i])
		}
	}
	return out
}

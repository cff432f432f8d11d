package stage

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// peakPerOctave is how many frequencies of an octave are looked at for a peak above the
// band: where op-amps run out of gain it is broad.
const peakPerOctave = 3

// AboveGain is up to how many times the op-amps' gain-bandwidth the range above the band
// is looked at: beyond it no op-amp has gain left.
const AboveGain = 10

// PeakAbove is by how much (dB) the greatest gain of a candidate above the band, with the
// real op-amp, exceeds its greatest gain in the band.
func (b *Bench) PeakAbove(c Candidate) (float64, error) {
	r := newRig(c.Topology, b.Means.OpAmp, b.Band.FromHz)
	if err := r.set(c.Values); err != nil {
		return 0, err
	}
	greatest := func(from, to float64, perOctave int) (gain float64, err error) {
		var own []float64
		if w, _ := c.Section.Natural(); w > 0 {
			own = append(own, w/(2*math.Pi))
		}
		for _, f := range biquad.Octaves(from, to, perOctave, own...) {
			h, _, err := r.at(f)
			if err != nil {
				return 0, err
			}
			gain = math.Max(gain, cmplx.Abs(h))
		}
		return gain, nil
	}
	inside, err := greatest(b.Band.FromHz, b.Band.ToHz, peakPerOctave)
	if err != nil {
		return 0, err
	}
	above, err := greatest(b.Band.ToHz, math.Max(2*b.Band.ToHz, AboveGain*b.Means.OpAmp.GainBandwidthHz), peakPerOctave)
	return biquad.GainDB(above) - biquad.GainDB(inside), err
}

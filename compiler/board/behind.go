package board

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/stage"
)

// gain is the magnitude of a response at a frequency (Hz), 0 Hz included.
type gain func(hz float64) float64

// behindEach lists what stands behind each of some gains in series, with one more behind
// all of them.
func behindEach(all []gain, last gain) []stage.Behind {
	out := make([]stage.Behind, len(all))
	for i := range all {
		after := all[i+1:]
		out[i].Gain = func(hz float64) float64 {
			g := last(hz)
			for _, f := range after {
				g *= f(hz)
			}
			return g
		}
	}
	return out
}

// inSeries is the gain of some in series.
func inSeries(all []gain) gain {
	return func(hz float64) float64 {
		g := 1.0
		for _, f := range all {
			g *= f(hz)
		}
		return g
	}
}

// loudest is the largest of some gains at each frequency: noise counts in the setting, and
// in the way, where there is most of it.
func loudest(all []gain) gain {
	return func(hz float64) float64 {
		g := 0.0
		for _, f := range all {
			g = math.Max(g, f(hz))
		}
		return g
	}
}

// times is a section's gain at a level.
func times(level float64, s biquad.Analog) gain {
	return func(hz float64) float64 { return math.Abs(level) * cmplx.Abs(s.At(2*math.Pi*hz)) }
}

// outOf is the gain of what stands behind a way's last stage, at a level: no direct voltage
// passes a coupling capacitor.
func (b *Board) outOf(level float64) gain {
	return func(hz float64) float64 {
		if hz == 0 && b.Spec.Output.CouplingF > 0 {
			return 0
		}
		return math.Abs(level)
	}
}

// gain is the loudest response of a position as it is asked for.
func (w want) gain() gain {
	var alts []gain
	for _, sections := range w.Alt {
		var all []gain
		for _, s := range sections {
			all = append(all, times(1, s))
		}
		alts = append(alts, inSeries(all))
	}
	return loudest(alts)
}

// lookBehind gives every position that is asked for what stands behind it: the positions
// after it, and the gain that each way has to have beside; behind the common ones, the
// first of the chains, the ways.
func (b *Board) lookBehind(chains [][]want, gains []float64) {
	of := func(ws []want) (out []gain) {
		for _, w := range ws {
			out = append(out, w.gain())
		}
		return out
	}
	var ways []gain
	for k, ws := range chains[1:] {
		all, end := of(ws), b.outOf(gains[k])
		for i, x := range behindEach(all, end) {
			ws[i].behind = x
		}
		ways = append(ways, inSeries(append(all, end)))
	}
	for i, x := range behindEach(of(chains[0]), loudest(ways)) {
		chains[0][i].behind = x
	}
}

// behind is what stands behind each stage of the board, as its stages are asked to be.
func (b *Board) behind() map[*Stage]stage.Behind {
	out := map[*Stage]stage.Behind{}
	// along is a chain's stages with what is behind the chain, and the chain's own gain.
	along := func(c *Chain, end gain) gain {
		var all []gain
		for _, p := range c.Positions {
			var alts []gain
			for _, a := range p.Alt {
				alts = append(alts, inSeries(a.gains()))
			}
			all = append(all, loudest(alts))
		}
		for i, x := range behindEach(all, end) {
			for _, a := range c.Positions[i].Alt {
				for k, y := range behindEach(a.gains(), x.Gain) {
					out[a.Stages[k]] = y
				}
			}
		}
		return inSeries(append(all, end))
	}
	var ways []gain
	for k := range b.Ways {
		ways = append(ways, along(&b.Ways[k].Chain, b.outOf(b.outputLevel())))
	}
	along(&b.Common, loudest(ways))
	return out
}

// gains are those of an alternative's stages.
func (a Alternative) gains() []gain {
	var out []gain
	for _, s := range a.Stages {
		out = append(out, times(s.Level, s.Section))
	}
	return out
}

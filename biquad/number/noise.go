package number

import (
	"math"
	"slices"

	"bandwright/biquad"
)

// Noise is the computed noise floor of one path, from the first multiplication
// to the output, for any combination of settings. It is not safe for
// concurrent use.
type Noise struct {
	format Format
	sines  []float64 // Hz
	hz     []float64 // of the output
	half   float64   // of the rate (Hz)
	slots  []noisySlot
	weight []float64 // of the output frequencies: share of a white noise's power
	suffix [][]float64
	prefix []float64
	ones   []float64
	sum    []float64
	made   float64 // what making samples adds
}

// noisySlot is one position. Its rows run over the frequencies of the input
// sine (gain, source) or over those of the noise at the output (pass,
// transfer).
type noisySlot struct {
	index func(biquad.Combination) int
	alt   []noisyAlt
}

type noisyAlt struct {
	gain []float64 // |H|² at the sine's frequencies
	pass []float64 // |H|² at the noise's frequencies
	from [3][]float64
	to   [3][]float64
	mute [3]bool // nothing is rounded at that node
}

// noiseGridPoints are the points of the logarithmic grids of the sine and of
// the noise, before the neighbourhoods of poles and zeros join them. Twice as
// many change the floor by less than 0.1 dB on the sections of the tests.
const noiseGridPoints = 160

// NewNoise prepares the noise floor of way k of a system, common cascade included,
// in words of the format, in the band loHz to hiHz (Hz, unweighted, cut at half
// the rate). inputGain (linear) is the attenuation at the input.
func (f Format) NewNoise(s biquad.System[biquad.Digital], k int, inputGain, rateHz, loHz, hiHz float64) *Noise {
	return newNoise(f, f.noisy(s, k, inputGain), rateHz, band{loHz, hiHz}, noiseGridPoints)
}

// noisy is the positions of a way that add noise. Where errors are relative all
// gains count as one multiplication at the input: its place does not matter.
func (f Format) noisy(s biquad.System[biquad.Digital], k int, inputGain float64) []biquad.Slot[biquad.Digital] {
	s = Arranged(s)
	gain := func(g float64) []biquad.Slot[biquad.Digital] {
		d := biquad.Through(biquad.Direct)
		d.B[0] = g
		return []biquad.Slot[biquad.Digital]{biquad.Fixed(d)}
	}
	if f.rounding.absolute {
		word := f.InputWord(s, inputGain)
		return slices.Concat(gain(word), s.Common.Slots, gain(f.WayWord(s.Ways[k])), s.Ways[k].Slots)
	}
	path := s.Path(k)
	return append(gain(f.Round(inputGain*path.Gain)), path.Slots...)
}

// newNoise is NewNoise on logarithmic grids of so many points.
func newNoise(f Format, slots []biquad.Slot[biquad.Digital], rateHz float64, b band, grid int) *Noise {
	half := rateHz / 2
	in, out := band{b.lo, half}, band{b.lo, math.Min(b.hi, half)} // of the sine, of its noise
	sines, bands := biquad.Spaced(in.lo, in.hi, grid), biquad.Spaced(out.lo, out.hi, grid)
	for _, s := range slots {
		for _, d := range s.Alt {
			for _, l := range landmarks(d, rateHz) {
				sines = append(sines, l.hz)
				bands = append(append(bands, l.hz), l.around()...)
			}
		}
	}
	sines, bands = in.within(sines), out.within(bands)

	n := &Noise{format: f, sines: sines, hz: bands, half: half, weight: make([]float64, len(bands))}
	for i := 1; i < len(bands); i++ { // trapezoids
		w := (bands[i] - bands[i-1]) / 2 / half
		n.weight[i-1] += w
		n.weight[i] += w
	}
	atIn, atOut := points(sines, rateHz), points(bands, rateHz)
	for _, s := range slots {
		slot := noisySlot{index: s.Index}
		for _, d := range s.Alt {
			slot.alt = append(slot.alt, f.newNoisyAlt(d, atIn, atOut))
		}
		n.slots = append(n.slots, slot)
		n.suffix = append(n.suffix, make([]float64, len(bands)))
	}
	n.prefix, n.sum, n.ones = make([]float64, len(sines)), make([]float64, len(sines)), make([]float64, len(sines))
	for i := range n.ones {
		n.ones[i] = 1
	}
	for _, w := range n.weight {
		n.made += float64(w * f.rounding.made)
	}
	return n
}

func points(hz []float64, rateHz float64) []biquad.Point {
	pts := make([]biquad.Point, len(hz))
	for i, f := range hz {
		pts[i] = biquad.PointAt(f, rateHz)
	}
	return pts
}

func (f Format) newNoisyAlt(d biquad.Digital, in, out []biquad.Point) noisyAlt {
	a := noisyAlt{gain: make([]float64, len(in)), pass: make([]float64, len(out)), mute: [3]bool{true, true, true}}
	for k := range a.from {
		a.from[k], a.to[k] = make([]float64, len(in)), make([]float64, len(out))
	}
	for i, p := range in {
		h := d.At(p)
		a.gain[i] = biquad.Power(h)
		s := f.rounding.sources(d, p, h)
		for k, v := range [3]float64{s.y, s.p, s.q} {
			a.from[k][i] = v
			a.mute[k] = a.mute[k] && v == 0
		}
	}
	for i, p := range out {
		a.pass[i] = biquad.Power(d.At(p))
		t := transfersOf(d, p)
		a.to[0][i], a.to[1][i], a.to[2][i] = t.y, t.p, t.q
	}
	return a
}

// DBFS is the noise at the way's output in combination c while a full-scale
// sine of the worst frequency from loHz up goes in (in fixed point it is the same
// for all): RMS in decibels re the RMS
// of a full-scale sine.
func (n *Noise) DBFS(c biquad.Combination) float64 {
	_, most := n.worst(c)
	return ratioDB(n.format.UnitRoundOff*math.Sqrt(n.format.rounding.power*most), 1)
}

// Spectrum is the noise that DBFS is the whole of: at frequencies that go up through the band (Hz), its density
// in decibels re the mean square of a full-scale sine, in each hertz.
func (n *Noise) Spectrum(c biquad.Combination) (hz, dbfs []float64) {
	sine, _ := n.worst(c)
	density := make([]float64, len(n.hz)) // of a white noise from 0 to half the rate it is 1
	if n.format.rounding.absolute {
		for i := range density {
			density[i] = n.format.rounding.made
		}
	}
	before := 1.0
	for k, s := range n.slots {
		a := &s.alt[s.index(c)]
		for node := range a.from {
			from := before * a.from[node][sine]
			if a.mute[node] || from == 0 {
				continue
			}
			for i, v := range n.suffix[k] {
				density[i] += float64(from * float64(v/n.weight[i]*a.to[node][i]))
			}
		}
		if !n.format.rounding.absolute {
			before *= a.gain[sine]
		}
	}
	for _, v := range density {
		dbfs = append(dbfs, ratioDB(n.format.UnitRoundOff*math.Sqrt(n.format.rounding.power*v/n.half), 1))
	}
	return n.hz, dbfs
}

// worst is the sine with which there is most noise, and its power as DBFS scales it; suffix is then
// that of combination c.
func (n *Noise) worst(c biquad.Combination) (sine int, most float64) {
	// suffix[k] is what follows position k, from the output back.
	last := len(n.slots) - 1
	copy(n.suffix[last], n.weight)
	for k := last; k > 0; k-- {
		pass := n.slots[k].alt[n.slots[k].index(c)].pass
		before := n.suffix[k-1]
		for i, v := range n.suffix[k] {
			before[i] = v * pass[i]
		}
	}
	for i := range n.sum {
		n.prefix[i], n.sum[i] = 1, 0
	}
	before := n.prefix
	if n.format.rounding.absolute {
		before = n.ones
		for i := range n.sum {
			n.sum[i] = n.made
		}
	}
	for k, s := range n.slots {
		a := &s.alt[s.index(c)]
		for node := range a.from {
			if a.mute[node] {
				continue
			}
			var gain float64
			to := a.to[node]
			for i, v := range n.suffix[k] {
				gain += float64(v * to[i])
			}
			from := a.from[node]
			for i, v := range before {
				n.sum[i] += float64(float64(v*from[i]) * gain)
			}
		}
		for i, v := range a.gain {
			n.prefix[i] *= v
		}
	}
	for i, v := range n.sum {
		if v > most {
			sine, most = i, v
		}
	}
	return sine, most
}

package engine

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Noise is what the roundings of a chain put out, in one band.
//
// Each section rounds once, where its sum becomes a sample: an error uniform over one
// step, so of the variance step²/12, which goes through the section's own poles and then
// through all that follows (L. B. Jackson, Bell System Technical Journal 49(2), 1970). Left-out
// bits moreover lower each sample by half a step, which is DC.
type Noise struct {
	chain  *Chain
	weight []float64      // share of a white noise's power at each frequency
	pass   [][][]float64  // |H|² by position, alternative and frequency
	own    [][][]float64  // |1/A|², 0 where nothing is rounded
	still  [][]complex128 // H at 0 Hz
	stillA [][]complex128 // 1/A at 0 Hz, 0 where nothing is rounded
}

// noisePoints are those of the logarithmic grid that the neighbourhoods of poles join.
const noisePoints = 200

// NewNoise prepares the noise from loHz to hiHz (Hz).
func (c *Chain) NewNoise(rateHz, loHz, hiHz float64) *Noise {
	hiHz = math.Min(hiHz, rateHz/2)
	hz := biquad.Spaced(loHz, hiHz, noisePoints)
	for _, p := range c.Positions {
		for _, w := range p.Alt {
			hz = append(hz, around(c.digital(w), rateHz, loHz, hiHz)...)
		}
	}
	hz = biquad.Ascending(hz, 0)
	n := &Noise{chain: c, weight: make([]float64, len(hz))}
	for i := 1; i < len(hz); i++ { // trapezoids
		w := (hz[i] - hz[i-1]) / 2 / (rateHz / 2)
		n.weight[i-1] += w
		n.weight[i] += w
	}
	for i := range c.Positions {
		n.add(&c.Positions[i], hz, rateHz)
	}
	return n
}

// around are frequencies (Hz) near a section's poles, within a band.
func around(d biquad.Digital, rateHz, loHz, hiHz float64) []float64 {
	var out []float64
	for _, z := range d.Poles() {
		if z == 0 {
			continue
		}
		at := math.Abs(cmplx.Phase(z)) / (2 * math.Pi) * rateHz
		width := math.Abs(math.Log(cmplx.Abs(z))) / (2 * math.Pi) * rateHz
		for _, k := range []float64{-4, -2, -1, -0.5, -0.25, 0, 0.25, 0.5, 1, 2, 4} {
			if f := at + k*width; f > loHz && f < hiHz {
				out = append(out, f)
			}
		}
	}
	return out
}

// add tabulates a position.
func (n *Noise) add(p *biquad.Slot[Words], hz []float64, rateHz float64) {
	var pass, own [][]float64
	var still, stillA []complex128
	for _, w := range p.Alt {
		d := n.chain.digital(w)
		poles := biquad.Digital{B: [3]float64{1}, A: d.A}
		h, a := make([]float64, len(hz)), make([]float64, len(hz))
		zero, zeroA := d.At(biquad.PointAt(0, rateHz)), complex128(0)
		for i, f := range hz {
			at := biquad.PointAt(f, rateHz)
			h[i] = biquad.Power(d.At(at))
			if n.chain.rounds(w) {
				a[i] = biquad.Power(poles.At(at))
			}
		}
		if n.chain.rounds(w) {
			zeroA = poles.At(biquad.PointAt(0, rateHz))
		}
		pass, own, still, stillA = append(pass, h), append(own, a), append(still, zero), append(stillA, zeroA)
	}
	n.pass, n.own, n.still, n.stillA = append(n.pass, pass), append(n.own, own), append(n.still, still), append(n.stillA, stillA)
}

// rounds reports whether a section's sums have bits that a sample has not: one that
// passes every sample on has none.
func (e *Engine) rounds(w Words) bool {
	mask := int64(1)<<e.Fraction - 1
	for _, v := range w {
		if v&mask != 0 {
			return true
		}
	}
	return false
}

// DBFS is the noise at the output in a combination: RMS in decibels re the RMS of a
// full-scale sine.
func (n *Noise) DBFS(c biquad.Combination) float64 {
	total := 0.0
	for i, share := range n.weight {
		after, sum := 1.0, 0.0
		for k := len(n.pass) - 1; k >= 0; k-- {
			alt := n.chain.Positions[k].Index(c)
			sum += after * n.own[k][alt][i]
			after *= n.pass[k][alt][i]
		}
		total += share * sum
	}
	step := math.Ldexp(1, 1-n.chain.Data)
	return biquad.GainDB(math.Sqrt(2 * total * step * step / 12))
}

// RestDBFS is the DC at the output in a combination that rounding down leaves, re full
// scale; the floor of biquad.GainDB where sums are rounded to the nearest sample.
func (n *Noise) RestDBFS(c biquad.Combination) float64 {
	if n.chain.Nearest {
		return biquad.GainDB(0)
	}
	after, sum := complex128(1), complex128(0)
	for k := len(n.pass) - 1; k >= 0; k-- {
		alt := n.chain.Positions[k].Index(c)
		sum += after * n.stillA[k][alt]
		after *= n.still[k][alt]
	}
	return biquad.GainDB(cmplx.Abs(sum) * math.Ldexp(1, -n.chain.Data))
}

package diagnosis

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
)

// take puts a unit's readings at the frequencies of the bench, their common level and
// delay taken out where they are fitted.
func (x *Bench) take(readings []Reading) *taken {
	t := &taken{gain: 1, delays: make([]float64, len(x.ways)), h: make([][]complex128, len(x.ways)), known: make([][]bool, len(x.ways))}
	var apart []float64
	for c, w := range x.ways {
		t.h[c], t.known[c] = make([]complex128, len(x.hz)), make([]bool, len(x.hz))
		k := slices.IndexFunc(readings, func(r Reading) bool { return r.Way == w })
		if k < 0 {
			continue
		}
		r := readings[k]
		for f, hz := range x.hz {
			if hz < r.LowHz*(1-1e-9) || hz > r.HighHz*(1+1e-9) {
				continue
			}
			t.h[c][f], t.known[c][f] = r.At(hz), true
			if cmplx.Abs(x.nominal[c][f]) > x.peaks[c]*0.1 {
				apart = append(apart, math.Log(math.Max(1e-12, cmplx.Abs(t.h[c][f]))/cmplx.Abs(x.nominal[c][f])))
			}
		}
	}
	if x.FitLevel && len(apart) > 0 {
		t.gain = exp(densest(apart))
	}
	if x.FitDelay && x.Phased {
		for c, w := range x.ways {
			of := readings
			if x.DelayEach {
				of = slices.DeleteFunc(slices.Clone(readings), func(r Reading) bool { return r.Way != w })
			}
			from, to := delayRange(of)
			if c == 0 || x.DelayEach {
				t.delays[c] = x.delayOf(t, x.nominal, t.gain, from, to, x.fitted(c))
			} else {
				t.delays[c] = t.delays[0]
			}
		}
	}
	for c := range t.h {
		for f, hz := range x.hz {
			t.h[c][f] *= complex(1/t.gain, 0) * cmplx.Conj(biquad.Delay(hz, t.delays[c]))
		}
	}
	t.noise = make([]float64, len(x.places))
	for i, at := range x.places {
		for _, r := range readings {
			if h := t.h[at.column][at.f]; r.Way == at.way && r.Noise != nil && t.known[at.column][at.f] {
				t.noise[i] = r.Noise(x.hz[at.f]) * cmplx.Abs(h)
				t.known[at.column][at.f] = t.noise[i] < unsure*math.Max(cmplx.Abs(x.nominalAt(i, at)), cmplx.Abs(h))
			}
		}
	}
	return t
}

// delayOf is by how much (s), between two bounds, measured responses are later than others, from the
// greatest correlation at the frequencies of the bench; each way may be inverted. It is that of one column, or of
// all (-1).
func (x *Bench) delayOf(t *taken, nominal [][]complex128, gain, from, to float64, column int) float64 {
	type sample struct {
		column int
		hz     float64
		v      complex128
	}
	var all []sample
	top := 0.0
	for c, known := range t.known {
		for f, h := range nominal[c] {
			m := t.h[c][f]
			a := cmplx.Abs(m) * cmplx.Abs(h)
			if column >= 0 && c != column || !known[f] || a == 0 || cmplx.Abs(h) < x.peaks[c]*0.1 {
				continue
			}
			// A way that is silent knows of no delay.
			a /= math.Min(1, cmplx.Abs(m)/(gain*cmplx.Abs(h)))
			all = append(all, sample{c, x.hz[f], m * cmplx.Conj(h) / complex(a, 0)})
			top = math.Max(top, x.hz[f])
		}
	}
	if top == 0 {
		return 0
	}
	sums := make([]complex128, len(x.ways))
	fit := func(s float64) float64 {
		clear(sums)
		for _, v := range all {
			turn := v.hz * s
			sin, cos := math.Sincos(2 * math.Pi * (turn - math.Floor(turn)))
			sums[v.column] += v.v * complex(cos, sin)
		}
		return size(sums)
	}
	step := 1 / (6 * top)
	best, most := from, -1.0
	// Along the steps each sample turns by an angle of its own, from one to the next.
	now, turns := make([]complex128, len(all)), make([]complex128, len(all))
	for i, v := range all {
		now[i], turns[i] = v.v*cmplx.Conj(biquad.Delay(v.hz, from)), cmplx.Conj(biquad.Delay(v.hz, step))
	}
	for k := 0; from+float64(k)*step < to; k++ {
		clear(sums)
		for i, v := range all {
			sums[v.column] += now[i]
			now[i] *= turns[i]
		}
		if v := size(sums); v > most {
			best, most = from+float64(k)*step, v
		}
	}
	return biquad.Summit(best-step, best+step, 30, fit)
}

// fitted is the column whose delay is fitted for a column: its own where each has one, else all (-1).
func (x *Bench) fitted(column int) int {
	if x.DelayEach {
		return column
	}
	return -1
}

// size is the sum of the magnitudes.
func size(all []complex128) float64 {
	total := 0.0
	for _, v := range all {
		total += cmplx.Abs(v)
	}
	return total
}

// densest is the middle of the shortest range that a third of all values lies in: a way that is dead
// or far off does not move it.
func densest(all []float64) float64 {
	slices.Sort(all)
	third := len(all) / 3
	best := 0
	for i := 0; i+third < len(all); i++ {
		if all[i+third]-all[i] < all[best+third]-all[best] {
			best = i
		}
	}
	return (all[best] + all[best+third]) / 2
}

// Apart is how far (dB) a unit is from the nominal one at each place of the bench, in the order of
// ways and frequencies, level taken out as in its diagnosis.
func (x *Bench) Apart(readings []Reading, d *Diagnosis) []float64 {
	out := make([]float64, 0, len(x.places))
	for _, at := range x.places {
		for _, r := range readings {
			if hz := x.hz[at.f]; r.Way == at.way {
				hz = math.Max(r.LowHz, math.Min(r.HighHz, hz))
				out = append(out, biquad.DB(r.At(hz)/x.nominal[at.column][at.f])-d.LevelDB)
			}
		}
	}
	return out
}

// Retuned is how far (dB) a unit would be from the nominal one, at the places of the bench, if a part
// had another value: apart is how far it is now.
func (x *Bench) Retuned(part int, value float64, apart []float64) []float64 {
	f := Fault{Kind: Off, parts: [2]int{part, -1}, factors: [2]float64{value / x.Parts[part].Value, 1}}
	out := make([]float64, len(apart))
	for i, at := range x.places {
		out[i] = apart[i] + biquad.DB(x.response(at, &f)/x.nominalAt(i, at))
	}
	return out
}

// Loud are the ways of the places of the bench at which the nominal unit is within so many dB (> 0) of a
// way's peak, -1 elsewhere.
func (x *Bench) Loud(withinDB float64) []int {
	var out []int
	for i, at := range x.places {
		way := -1
		if cmplx.Abs(x.nominalAt(i, at)) >= x.peaks[at.column]*biquad.FromDB(-withinDB) {
			way = at.way
		}
		out = append(out, way)
	}
	return out
}

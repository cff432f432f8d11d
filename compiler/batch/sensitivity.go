package batch

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// relativeStep is the change of a part by which its effect is differenced: the error
// of the central difference is of the order of its square.
const relativeStep = 1e-4

// sensitivities are d ln(response) over the relative deviation of every part, by part
// and frequency: of a part in a stage, that of the stage's closed form, wherever the
// stage stands in the way.
func (s *Simulator) sensitivities() [][]complex128 {
	out := make([][]complex128, len(s.Parts))
	more, less := make([]complex128, len(s.Hz)), make([]complex128, len(s.Hz))
	for _, b := range s.blocks {
		values := append([]float64{}, b.nominal...)
		for k, p := range b.parts {
			if p < 0 {
				continue
			}
			omega, factor := s.omega[b.from:b.to], b.inverse[b.from:b.to]
			values[k] = b.nominal[k] * (1 + relativeStep)
			over(more[b.from:b.to], b.closed(values), omega, factor)
			values[k] = b.nominal[k] * (1 - relativeStep)
			over(less[b.from:b.to], b.closed(values), omega, factor)
			values[k] = b.nominal[k]
			out[p] = make([]complex128, len(s.Hz))
			for i := b.from; i < b.to; i++ {
				out[p][i] = (more[i] - less[i]) / (2 * relativeStep)
			}
		}
	}
	return out
}

// place is a row in one of its variants or combinations, at one frequency.
type place struct{ row, in, at int }

// effects puts what the relative deviation of every part does at a place (dB for a
// deviation of 1), by part, to the first order.
func (j *judge) effects(dst []float64, sens [][]complex128, x place) {
	clear(dst)
	if x.row < len(j.ways) {
		j.addEffects(dst, sens, x.row, x.in, x.at, 1)
		return
	}
	total := complex128(0)
	for k, v := range j.sums[x.in].variants {
		total += j.ways[k].variants[v].nominal[x.at]
	}
	for k, v := range j.sums[x.in].variants {
		j.addEffects(dst, sens, k, v, x.at, j.ways[k].variants[v].nominal[x.at]/total)
	}
}

// addEffects adds those on one way, of which the response at the place has a share.
func (j *judge) addEffects(dst []float64, sens [][]complex128, way, in, at int, share complex128) {
	p := &j.ways[way]
	if at < p.from || at >= p.to {
		return
	}
	share *= 20 / math.Ln10
	add := func(part int, s complex128) { dst[part] += real(s * share) }
	for _, blocks := range p.variants[in].passed {
		for _, b := range blocks {
			for _, part := range j.blocks[b].parts {
				if part >= 0 {
					add(part, sens[part][at])
				}
			}
		}
	}
	for _, e := range p.around {
		add(e.part, e.s[at])
	}
}

// places calls f with every place that boards are looked at, with the deviation of the
// nominal board there (dB).
func (j *judge) places(f func(x place, db float64)) {
	for k := range j.ideal {
		for n, t := range j.ideal[k] {
			for i, at := range t.at {
				f(place{k, n, int(at)}, decibels(biquad.Power(j.ways[k].variants[n].nominal[at])*t.inverse[i]))
			}
		}
	}
	for n, s := range j.sums {
		for i, at := range s.at {
			total := complex128(0)
			for k, v := range s.variants {
				total += j.ways[k].variants[v].nominal[at]
			}
			f(place{len(j.ways), n, int(at)}, decibels(biquad.Power(total)*s.inverse[i]))
		}
	}
}

// ideally is the magnitude that is wanted of a row in one of its variants or
// combinations at hz (Hz).
func (j *judge) ideally(row, in int, hz float64) float64 {
	near, one, total := j.subject.Prototype.Near([]float64{hz}), make([]complex128, 1), complex128(0)
	for k := range j.ways {
		if row < len(j.ways) && k != row {
			continue
		}
		near.Response(one, k, j.combination(row, in))
		total += one[0]
	}
	return cmplx.Abs(total)
}

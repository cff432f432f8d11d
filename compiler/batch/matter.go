package batch

import (
	"cmp"
	"math"
	"slices"

	"bandwright/compiler/verify"
)

// mostMatters is how many parts are told of each row.
const mostMatters = 10

// Matter is a part that makes much of the spread of a way or of the sum.
type Matter struct {
	Part
	// DBPerPercent is what 1 % more of it does where the spread is widest, and Share
	// the part's share of the variance there.
	DBPerPercent, Share float64
}

// Spread are the standard deviations of a row in a combination of settings, wherever it is judged, by frequency.
type Spread struct {
	C      verify.Combination
	Sigmas []Sigma
}

// Sigma is the standard deviation of a level (dB) at a frequency (Hz).
type Sigma struct{ Hz, DB float64 }

// matters are the parts that matter most to each row, at the place where the
// standard deviation of its level (sigmaDB) is greatest; to the first order.
type matters struct {
	place
	sigmaDB float64
	parts   []Matter
	spreads []Spread
}

// matters finds them, for the standard deviations of all parts.
func (j *judge) matters(sens [][]complex128, sigma []float64) []matters {
	out := make([]matters, j.rows())
	effects := make([]float64, len(j.Parts))
	j.places(func(x place, _ float64) {
		j.effects(effects, sens, x)
		variance := 0.0
		for i, e := range effects {
			variance += e * e * sigma[i] * sigma[i]
		}
		s := math.Sqrt(variance)
		if s > out[x.row].sigmaDB {
			out[x.row].place, out[x.row].sigmaDB = x, s
		}
		of := &out[x.row].spreads
		for len(*of) <= x.in {
			*of = append(*of, Spread{C: j.combination(x.row, len(*of))})
		}
		(*of)[x.in].Sigmas = append((*of)[x.in].Sigmas, Sigma{j.Hz[x.at], s})
	})
	for row := range out {
		m := &out[row]
		if m.sigmaDB == 0 {
			continue
		}
		j.effects(effects, sens, m.place)
		for i, e := range effects {
			m.parts = append(m.parts, Matter{j.Parts[i], e / 100, e * e * sigma[i] * sigma[i] / (m.sigmaDB * m.sigmaDB)})
		}
		slices.SortStableFunc(m.parts, func(a, b Matter) int { return cmp.Compare(b.Share, a.Share) })
		m.parts = slices.Clone(m.parts[:min(mostMatters, len(m.parts))])
	}
	return out
}

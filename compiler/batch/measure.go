package batch

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// extreme is the greatest and the least of a ratio of powers, and where: the index
// of the frequency, and of the variant or sum.
type extreme struct {
	most, least     float64
	mostAt, leastAt int32
	mostIn, leastIn int32
}

// unseen is the extreme of nothing.
var unseen = extreme{most: 0, least: math.Inf(1)}

// take takes the ratios of one variant or sum into account.
func (e *extreme) take(ratios []float64, t *target, in int) {
	most, least, mostAt, leastAt := e.most, e.least, -1, -1
	for i, r := range ratios {
		if r > most {
			most, mostAt = r, i
		}
		if r < least {
			least, leastAt = r, i
		}
	}
	if mostAt >= 0 {
		e.most, e.mostAt, e.mostIn = most, t.at[mostAt], int32(in)
	}
	if leastAt >= 0 {
		e.least, e.leastAt, e.leastIn = least, t.at[leastAt], int32(in)
	}
}

// reach is the greatest deviation of a row of one board: signed, dB, with the
// indices of its frequency and of its variant or combination.
type reach struct {
	db          float64
	at, in, row int32
}

// reach is the greater deviation of both, with a gain (a ratio of powers) applied.
func (e *extreme) reach(gain float64) reach {
	up, down := decibels(e.most*gain), decibels(e.least*gain)
	if up >= -down {
		return reach{db: up, at: e.mostAt, in: e.mostIn}
	}
	return reach{db: down, at: e.leastAt, in: e.leastIn}
}

// decibels is 10·lg of a ratio of powers, within ±verify.MostErrorDB.
func decibels(ratio float64) float64 {
	return math.Max(-verify.MostErrorDB, math.Min(verify.MostErrorDB, 10/math.Ln10*math.Log(ratio)))
}

// meter is what is measured of one board at a time: ratios of powers, realised over
// wanted.
type meter struct {
	// Of each way by variant and of each sum, at the frequencies of its target; of
	// sums also with the ways' trimmers set.
	ways          [][][]float64
	sums, trimmed [][]float64
	extremes      []extreme // of each way, of the sum, of the trimmed sum
	gains         []float64 // of each way's trimmer
	plain, even   []complex128
}

func (j *judge) meter() *meter {
	m := &meter{gains: make([]float64, len(j.ways)), extremes: make([]extreme, len(j.ways)+2),
		plain: make([]complex128, len(j.Hz)), even: make([]complex128, len(j.Hz))}
	for k := range j.ideal {
		var all [][]float64
		for _, t := range j.ideal[k] {
			all = append(all, make([]float64, len(t.at)))
		}
		m.ways = append(m.ways, all)
	}
	for _, x := range j.sums {
		m.sums, m.trimmed = append(m.sums, make([]float64, len(x.at))), append(m.trimmed, make([]float64, len(x.at)))
	}
	return m
}

// begin prepares for another board.
func (m *meter) begin() {
	for i := range m.extremes {
		m.extremes[i] = unseen
	}
}

// takeWays takes the ways of a unit into account.
func (j *judge) takeWays(u *Unit, m *meter) {
	for k := range j.ideal {
		for n := range j.ideal[k] {
			t, h := &j.ideal[k][n], u.Way(k, n)
			r := m.ways[k][n]
			for i, at := range t.at {
				r[i] = biquad.Power(h[at]) * t.inverse[i]
			}
			m.extremes[k].take(r, t, n)
		}
	}
}

// trim sets each way's trimmer, by at most limitDB: in the default combination, so
// that the way's greatest deviations up and down are equal.
func (j *judge) trim(m *meter, limitDB float64) {
	limit := biquad.FromDB(2 * limitDB)
	for k := range j.ideal {
		e := unseen
		e.take(m.ways[k][0], &j.ideal[k][0], 0)
		m.gains[k] = math.Max(1/limit, math.Min(limit, 1/math.Sqrt(e.most*e.least)))
	}
}

// takeSums takes the sums of a unit's ways into account, without trim and with it.
func (j *judge) takeSums(u *Unit, m *meter) {
	for n := range j.sums {
		x := &j.sums[n]
		copy(m.plain, x.rest)
		copy(m.even, x.rest)
		for k, v := range x.variants {
			p := &j.ways[k]
			g := math.Sqrt(m.gains[k])
			h := u.Way(k, v)[p.from:p.to]
			plain, even := m.plain[p.from:p.to], m.even[p.from:p.to]
			for i, c := range h {
				plain[i] += c
				even[i] += complex(g*real(c), g*imag(c))
			}
		}
		a, b := m.sums[n], m.trimmed[n]
		for i, at := range x.at {
			a[i], b[i] = biquad.Power(m.plain[at])*x.inverse[i], biquad.Power(m.even[at])*x.inverse[i]
		}
		ways := len(j.ways)
		m.extremes[ways].take(a, &x.target, n)
		m.extremes[ways+1].take(b, &x.target, n)
	}
}

// apart is the greatest difference (dB, positive) between two boards in a row, and
// where; trimmed or not.
func (j *judge) apart(a, b *meter, row int, trimmed bool) reach {
	e := unseen
	ratios := make([]float64, 0, len(j.Hz))
	take := func(x, y []float64, t *target, in int) {
		ratios = ratios[:len(x)]
		for i := range x {
			ratios[i] = x[i] / y[i]
		}
		e.take(ratios, t, in)
	}
	gain := 1.0
	if row < len(j.ways) {
		for n := range j.ideal[row] {
			take(a.ways[row][n], b.ways[row][n], &j.ideal[row][n], n)
		}
		if trimmed {
			gain = a.gains[row] / b.gains[row]
		}
	} else {
		for n := range j.sums {
			if trimmed {
				take(a.trimmed[n], b.trimmed[n], &j.sums[n].target, n)
			} else {
				take(a.sums[n], b.sums[n], &j.sums[n].target, n)
			}
		}
	}
	r := e.reach(gain)
	r.db = math.Abs(r.db)
	return r
}

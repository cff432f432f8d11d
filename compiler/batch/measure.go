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

// see takes a ratio into account, at a frequency and in a variant or sum.
func (e *extreme) see(r float64, at int32, in int) {
	if r > e.most {
		e.most, e.mostAt, e.mostIn = r, at, int32(in)
	}
	if r < e.least {
		e.least, e.leastAt, e.leastIn = r, at, int32(in)
	}
}

// reach is the greatest deviation of a row of one board: signed, dB, with the
// indices of its frequency and of its variant or combination.
type reach struct {
	db          float64
	at, in, row int32
}

// aTie is a difference (dB) that rounding may make: a trimmer makes deviations equal.
const aTie = 1e-9

// reach is the greater deviation of both, with a gain (a ratio of powers) applied; of equal
// ones that upwards.
func (e *extreme) reach(gain float64) reach {
	up, down := decibels(e.most*gain), decibels(e.least*gain)
	if up >= -down-aTie {
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
	extremes      []extreme      // of each way, of the sum, of the trimmed sum
	gains         []float64      // of each way's trimmer
	plain, even   [][]complex128 // of each of the terms of sums, without trim and with it
	power         []float64      // of what is looked at
}

func (j *judge) meter() *meter {
	m := &meter{gains: make([]float64, len(j.ways)), extremes: make([]extreme, len(j.ways)+2)}
	m.power = make([]float64, len(j.Hz))
	for _, t := range j.terms {
		even := make([]complex128, len(j.Hz))
		if t.way >= 0 { // what is not simulated of a way is taken without its trimmer
			copy(even, j.ways[t.way].variants[j.ways[t.way].cores[t.core].variant].nominal)
		}
		m.plain, m.even = append(m.plain, make([]complex128, len(j.Hz))), append(m.even, even)
	}
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

// byDefault are the extremes of a way in its default variant.
func (j *judge) byDefault(m *meter, way int) extreme {
	e := unseen
	for i, r := range m.ways[way][0] {
		e.see(r, j.ideal[way][0].at[i], 0)
	}
	return e
}

// takeWays takes the ways of a unit into account.
func (j *judge) takeWays(u *Unit, m *meter) {
	for k := range j.ideal {
		p := &j.ways[k]
		for c := range p.cores {
			h := u.cores[k][c]
			for i := p.from; i < p.to; i++ {
				m.power[i] = biquad.Power(h[i])
			}
			for n := range p.variants {
				if v := &p.variants[n]; v.core == c {
					m.extremes[k].of(m.ways[k][n], m.power, j.turnOn(u, v.turn), &j.ideal[k][n], n)
				}
			}
		}
	}
}

// turnOn is what a turn does to the powers of a unit; nil for nothing.
func (j *judge) turnOn(u *Unit, t int) []float64 {
	if j.turns[t].plain {
		return nil
	}
	return u.turned(t).power
}

// trim sets each way's trimmer, by at most limitDB: in the default combination, so
// that the way's greatest deviations up and down are equal.
func (j *judge) trim(m *meter, limitDB float64) {
	limit := biquad.FromDB(2 * limitDB)
	for k := range j.ideal {
		e := j.byDefault(m, k)
		m.gains[k] = math.Max(1/limit, math.Min(limit, 1/math.Sqrt(e.most*e.least)))
	}
}

// takeSums takes the sums of a unit's ways into account, without trim and with it.
func (j *judge) takeSums(u *Unit, m *meter) {
	for n, t := range j.terms {
		if t.way < 0 {
			added(m.plain[n], m.plain[t.a], m.plain[t.b])
			added(m.even[n], m.even[t.a], m.even[t.b])
			continue
		}
		m.plain[n] = u.cores[t.way][t.core]
		p, g := &j.ways[t.way], math.Sqrt(m.gains[t.way])
		even := m.even[n][p.from:p.to]
		for i, v := range m.plain[n][p.from:p.to] {
			even[i] = complex(g*real(v), g*imag(v))
		}
	}
	ways := len(j.ways)
	for _, w := range j.wholes {
		powers(m.power, m.plain[w.a], m.plain[w.b])
		for _, n := range w.sums {
			m.extremes[ways].of(m.sums[n], m.power, j.turnOn(u, j.sums[n].turn), &j.sums[n].target, n)
		}
		powers(m.power, m.even[w.a], m.even[w.b])
		for _, n := range w.sums {
			m.extremes[ways+1].of(m.trimmed[n], m.power, j.turnOn(u, j.sums[n].turn), &j.sums[n].target, n)
		}
	}
}

func added(dst, a, b []complex128) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] + b[i]
	}
}

// powers puts those of the sum of two responses.
func powers(dst []float64, a, b []complex128) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = biquad.Power(a[i] + b[i])
	}
}

// of puts the ratios of some powers, times what a turn does, to those of a target, and takes
// them into account.
func (e *extreme) of(dst, power, turn []float64, t *target, in int) {
	inverse, most, least := t.inverse[:len(dst)], e.most, e.least
	for i, at := range t.at[:len(dst)] {
		r := power[at] * inverse[i]
		if turn != nil {
			r *= turn[at]
		}
		dst[i] = r
		if !(r <= most && r >= least) {
			e.see(r, at, in)
			most, least = e.most, e.least
		}
	}
}

// apart is the greatest difference (dB, positive) between two boards in a row, and
// where; trimmed or not.
func (j *judge) apart(a, b *meter, row int, trimmed bool) reach {
	e := unseen
	take := func(x, y []float64, t *target, in int) {
		y = y[:len(x)]
		most, least := e.most, e.least
		for i, v := range x {
			if w := y[i]; !(v <= most*w && v >= least*w) {
				e.see(v/w, t.at[i], in)
				most, least = e.most, e.least
			}
		}
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

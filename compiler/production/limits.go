package production

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/parallel"
)

const (
	// outside is the share of simulated boards that may lie outside of limits that are so
	// many standard deviations wide; then guardSigmas are added, as other boards differ.
	outside, guardSigmas = 0.0005, 0.15
	// methodDB is what limits are wider for the error of the simulation.
	methodDB = 0.01
	// turnedDeg is how far phase may turn with usual limits for it (degrees), usualDeg and
	// wideDeg the limits: half of what an inverted output turns it, at most.
	turnedDeg, usualDeg, wideDeg = 50, 60, 90
)

// reachOf is how far a good board lies from the nominal one at most, of what all parts at
// the ends of their tolerances do to the first order (dB): an eighth is for the
// other orders.
func reachOf(bound float64) float64 { return bound * 1.125 }

// row is one measurement: a test at one of its frequencies.
type row struct {
	*tested
	at      int        // index of the frequency among those of the survey
	column  int        // among those of the measurement
	inverse complex128 // 1 over the nominal response there
}

// measurement is what simulated boards measure.
type measurement struct {
	rows  []row
	trim  float64 // dB
	ways  int
	sim   *batch.Simulator
	level [][]float64 // by board and row: from the nominal board (dB), after trim
	turns []float64   // by row: the cosine of the greatest turn of phase
	moves [][]float64 // by way and board: how far its trimmer is turned (dB, positive)
}

// measure simulates the boards of a batch at the frequencies that have been chosen.
func measure(b *board.Board, s *survey, sim *batch.Simulator) *measurement {
	m := &measurement{sim: sim, trim: b.Spec.TrimDB, ways: len(b.Ways), level: make([][]float64, batch.Boards), moves: make([][]float64, len(b.Ways))}
	for _, x := range s.tests {
		for _, i := range x.chosen {
			column, _ := slices.BinarySearch(sim.Hz, s.sim.Hz[i])
			m.rows = append(m.rows, row{x, i, column, 1 / x.nominal[i]})
		}
	}
	m.narrow()
	for k := range m.moves {
		m.moves[k] = make([]float64, batch.Boards)
	}
	const inTurn = 200
	turns := make([][]float64, (batch.Boards+inTurn-1)/inTurn)
	parallel.Each(len(turns), func(chunk int) {
		u, d := sim.Unit(), make([]float64, len(sim.Parts))
		turns[chunk] = slices.Repeat([]float64{1}, len(m.rows))
		for n := chunk * inTurn; n < min(batch.Boards, (chunk+1)*inTurn); n++ {
			sim.Deviations(d, n)
			u.Set(d)
			m.level[n] = m.take(u, turns[chunk])
			for k, g := range m.trimmed(m.level[n]) {
				m.moves[k][n] = math.Abs(g)
			}
		}
	})
	m.turns = turns[0]
	for _, t := range turns[1:] {
		for i, v := range t {
			m.turns[i] = math.Min(m.turns[i], v)
		}
	}
	return m
}

// narrow has each way simulated where it is measured.
func (m *measurement) narrow() {
	from, to := slices.Repeat([]int{len(m.sim.Hz)}, m.ways), make([]int, m.ways)
	for _, r := range m.rows {
		from[r.way], to[r.way] = min(from[r.way], r.column), max(to[r.way], r.column+1)
	}
	m.sim.Narrow(from, to)
}

// take measures a board, and the cosine of the greatest turns of phase so far.
func (m *measurement) take(u *batch.Unit, turns []float64) []float64 {
	out := make([]float64, len(m.rows))
	for i := range m.rows {
		r := &m.rows[i]
		h := u.At(r.way, r.variant, r.column) * r.inverse
		p := biquad.Power(h)
		out[i] = 10 / math.Ln10 * math.Log(p)
		turns[i] = math.Min(turns[i], real(h)/math.Sqrt(p))
	}
	return out
}

// trimmed sets the trimmers, and says how far (dB): in the default setting, so that the
// greatest deviations up and down from the nominal levels are equal.
func (m *measurement) trimmed(level []float64) []float64 {
	if m.trim == 0 {
		return nil
	}
	out := make([]float64, m.ways)
	for k := range out {
		most, least := math.Inf(-1), math.Inf(1)
		for i, r := range m.rows {
			if r.way == k && changed(r.c) == 0 {
				most, least = math.Max(most, level[i]), math.Min(least, level[i])
			}
		}
		if most >= least {
			out[k] = math.Max(-m.trim, math.Min(m.trim, -(most+least)/2))
		}
	}
	for i, r := range m.rows {
		level[i] += out[r.way]
	}
	return out
}

// plan makes the limits of what was measured.
func (m *measurement) plan(b *board.Board) *Plan {
	mean, sigma := m.moments()
	furthest := make([]float64, len(m.level))
	for n, all := range m.level {
		for i, v := range all {
			d := v - mean[i]
			if least := furthest[n] * sigma[i]; (d > least || -d > least) && sigma[i] > 0 {
				furthest[n] = math.Abs(d) / sigma[i]
			}
		}
	}
	slices.Sort(furthest)
	p := &Plan{Sigmas: furthest[share(len(furthest), outside)] + guardSigmas}
	var last *tested
	for i, r := range m.rows {
		if r.tested != last {
			p.Tests, last = append(p.Tests, Test{Way: r.way, C: r.c}), r.tested
		}
		t := &p.Tests[len(p.Tests)-1]
		t.Points = append(t.Points, m.point(i, mean[i], p.Sigmas*sigma[i]))
	}
	if b.Spec.TrimDB > 0 {
		for _, all := range m.moves {
			slices.Sort(all)
			p.TrimDB = append(p.TrimDB, all[share(len(all), 0.001)])
		}
	}
	return p
}

// share is the index of the first of n values, ascending, above which a share of them lies.
func share(n int, above float64) int { return n - 1 - int(above*float64(n)) }

// moments are the mean and the standard deviation of each row (dB).
func (m *measurement) moments() (mean, sigma []float64) {
	mean, sigma = make([]float64, len(m.rows)), make([]float64, len(m.rows))
	n := float64(len(m.level))
	for _, all := range m.level {
		for i, v := range all {
			mean[i] += v
		}
	}
	for i := range mean {
		mean[i] /= n
	}
	for _, all := range m.level {
		for i, v := range all {
			sigma[i] += (v - mean[i]) * (v - mean[i])
		}
	}
	for i, v := range sigma {
		sigma[i] = math.Sqrt(v / n)
	}
	return mean, sigma
}

// point is a row with its limits: half widths (dB) around the mean, but no wider than the
// parts can move the level. Limits have two decimals, rounded outwards.
func (m *measurement) point(i int, mean, half float64) Point {
	r := m.rows[i]
	low, high := mean-half, mean+half
	if m.trim == 0 {
		reach := reachOf(r.bound[r.at])
		low, high = math.Max(low, -reach), math.Min(high, reach)
	}
	db := biquad.DB(r.nominal[r.at])
	x := Point{Hz: m.sim.Hz[r.column], NominalDB: db, Degrees: cmplx.Phase(r.nominal[r.at]) * 180 / math.Pi, Within: usualDeg,
		LowDB: math.Floor((db+low-methodDB)*100) / 100, HighDB: math.Ceil((db+high+methodDB)*100) / 100}
	if m.turns[i] < math.Cos(turnedDeg*math.Pi/180) {
		x.Within = wideDeg
	}
	return x
}

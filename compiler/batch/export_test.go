package batch

import (
	"context"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/verify"
)

var (
	Wilson   = wilson
	Draw     = draw
	AsMade   = asMade
	LotOf    = (*judge).lotOf
	NewJudge = newJudge
)

// Judge is the inner workings, for the tests from outside.
type Judge = judge

// Deviations are those of a board's parts as delivered.
func (j *judge) Deviations(b *board.Board, n int, scale float64) []float64 {
	l := j.lotOf(b.Spec)
	d := make([]float64, len(l.tolerances))
	draw(d, n, asMade, l.normal)
	for i := range d {
		d[i] *= scale * l.tolerances[i]
	}
	return d
}

// Compare calls f with the level (dB, re wanted) of every row at every place in a
// combination, as simulated and from the ways' full responses.
func (j *judge) Compare(u *Unit, c verify.Combination, full [][]complex128, f func(row int, hz, simulated, nodal float64)) {
	for k := range j.ways {
		v := j.variant(k, c)
		t := j.ideal[k][v]
		for i, at := range t.at {
			f(k, j.Hz[at], decibels(biquad.Power(u.Way(k, v)[at])*t.inverse[i]), decibels(biquad.Power(full[k][at])*t.inverse[i]))
		}
	}
	for n, s := range j.sums {
		if string(s.c) != string(c) {
			continue
		}
		m := j.meter()
		m.begin()
		for k := range m.gains {
			m.gains[k] = 1
		}
		j.takeSums(u, m)
		for i, at := range s.at {
			total := complex128(0)
			for k := range full {
				total += full[k][at]
			}
			f(len(j.ways), j.Hz[at], decibels(m.sums[n][i]), decibels(biquad.Power(total)*s.inverse[i]))
		}
	}
}

// Reaches are the greatest deviations (dB) of so many boards, by board and row.
func (j *judge) Reaches(b *board.Board, boards int) [][]float64 {
	l := j.lotOf(b.Spec)
	l.boards, l.trimDB = boards, 1
	o := j.run(context.Background(), l, false)
	var out [][]float64
	for n := range boards {
		var row []float64
		for _, r := range o.plain[n*o.rows : (n+1)*o.rows] {
			row = append(row, r.db)
		}
		out = append(out, row)
	}
	return out
}

package batch

import (
	"cmp"
	"math"
	"slices"

	"bandwright/compiler/verify"
)

// Place is a deviation (dB) with the frequency and the combination that it is found
// at, the latter also as choices of the settings that matter.
type Place struct {
	DB, Hz float64
	C      verify.Combination
	With   []verify.Choice
}

// Percentiles are deviations that so many percent of all boards stay within, each of
// the board that is the last of them, at its own worst place; and that of the worst
// board.
type Percentiles struct{ P50, P95, P99, Worst Place }

// rank is the index of the last of a share (0 to 1) of n things in order, n ≥ 1.
func rank(n int, share float64) int {
	const rounding = 1e-9
	return max(0, min(n-1, int(math.Ceil(share*float64(n)-rounding))-1))
}

// ordered are the reaches of a row by size.
func ordered(all []reach, rows, row int) []reach {
	out := make([]reach, 0, len(all)/rows)
	for i := row; i < len(all); i += rows {
		out = append(out, all[i])
	}
	slices.SortFunc(out, func(a, b reach) int { return cmp.Compare(math.Abs(a.db), math.Abs(b.db)) })
	return out
}

// placed is a reach with its place spelled out.
func (j *judge) placed(row int, r reach) Place {
	return j.place(row, int(r.in), r.db, j.Hz[r.at])
}

// place is a deviation (dB) at hz (Hz) of a row in one of its variants or
// combinations.
func (j *judge) place(row, in int, db, hz float64) Place {
	p := Place{DB: db, Hz: hz, C: j.combination(row, in)}
	axes := j.subject.AllAxes
	if row < len(j.ways) {
		axes = j.subject.WayAxes[row]
	}
	for _, ax := range axes {
		s := j.subject.Settings[ax.Setting]
		p.With = append(p.With, verify.Choice{Setting: s.Name, Choice: s.Choices[p.C[ax.Setting]]})
	}
	return p
}

// together is the greatest deviation of each board over all rows, as one row.
func together(all []reach, rows int) []reach {
	var out []reach
	for n := 0; n < len(all); n += rows {
		worst := all[n]
		worst.row = 0
		for i, r := range all[n : n+rows] {
			if math.Abs(r.db) > math.Abs(worst.db) {
				worst = r
				worst.row = int32(i)
			}
		}
		out = append(out, worst)
	}
	return out
}

func (j *judge) percentiles(row int, all []reach) Percentiles {
	at := func(share float64) Place { return j.placed(row, all[rank(len(all), share)]) }
	return Percentiles{at(0.5), at(0.95), at(0.99), at(1)}
}

// Yield is the share of boards of which every way and the sum stay within a limit (dB)
// in every combination: Inside of Boards, and the interval that the share of all boards
// ever made lies in with a confidence of 95 %.
type Yield struct {
	LimitDB        float64
	Inside, Boards int
	Share          float64
	Low, High      float64
}

// yield counts the boards of which every row is within the limit.
func yield(all []reach, rows int, limitDB float64) Yield {
	y := Yield{LimitDB: limitDB, Boards: len(all) / rows}
	for n := range y.Boards {
		if !slices.ContainsFunc(all[n*rows:(n+1)*rows], func(r reach) bool { return math.Abs(r.db) > limitDB }) {
			y.Inside++
		}
	}
	y.Share = float64(y.Inside) / float64(y.Boards)
	y.Low, y.High = wilson(y.Inside, y.Boards)
	return y
}

// wilson is the interval with a confidence of 95 % for a share of which k of n were
// found (Wilson, J. Am. Statist. Assoc. 22, 1927).
func wilson(k, n int) (low, high float64) {
	const z = 1.959964 // 97.5 % of a normal distribution lie below
	p, m := float64(k)/float64(n), float64(n)
	middle, half := p+z*z/(2*m), z*math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return math.Max(0, (middle-half)/(1+z*z/m)), math.Min(1, (middle+half)/(1+z*z/m))
}

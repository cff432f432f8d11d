package batch

import (
	"context"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

var (
	Wilson   = wilson
	Draw     = draw
	AsMade   = asMade
	NewJudge = newJudge
)

// Judge is the inner workings, for the tests from outside.
type Judge = judge

// Scaled are a board's deviations as delivered, times a factor, up to 20 %.
func (s *Simulator) Scaled(n int, factor float64) []float64 {
	d := make([]float64, len(s.Parts))
	s.Deviations(d, n)
	for i := range d {
		d[i] = max(-0.2, min(0.2, d[i]*factor))
	}
	return d
}

// Compare calls f with the level (dB, re wanted) of every row at every place in a
// combination, as simulated and from the ways' full responses.
func (j *judge) Compare(u *Unit, c verify.Combination, full [][]complex128, f func(row int, hz, simulated, nodal float64)) {
	for k := range j.ways {
		v := j.Variant(k, c)
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
	o := j.run(context.Background(), l, untrimmed)
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

// Choice is the choice of classes, for tests that try others.
type Choice struct{ c *chooser }

// Choice prepares it.
func (j *judge) Choice(b *language.Board, t Terms) Choice {
	return Choice{j.chooser(context.Background(), b, t)}
}

// Classes is how many classes each part comes in.
func (x Choice) Classes() (n []int) {
	for _, all := range x.c.classes {
		n = append(n, max(1, len(all)))
	}
	return n
}

// Choose is what is chosen.
func (x Choice) Choose() ([]int, bool) { return x.c.choose() }

// Holds reports whether all boards of a choice keep the promise.
func (x Choice) Holds(chosen []int) bool { return x.c.inside(chosen, Boards) >= x.c.need }

// Directly is the response of a way in one of its variants at a frequency by index: the
// nominal one times, stage by stage, the closed form with a board's own values over that
// with nominal ones, and what the parts around the stages do.
func (s *Simulator) Directly(deviations []float64, way, variant, at int) complex128 {
	p := &s.ways[way]
	around := complex128(1)
	for _, e := range p.around {
		around += e.s[at] * complex(deviations[e.part], 0)
	}
	h := p.variants[variant].nominal[at] * around
	for _, here := range p.variants[variant].passed {
		for _, i := range here {
			b := &s.blocks[i]
			values := append([]float64{}, b.nominal...)
			for k, part := range b.parts {
				if part >= 0 {
					values[k] *= 1 + deviations[part]
				}
			}
			h *= b.closed(values).At(s.omega[at]) / b.closed(b.nominal).At(s.omega[at])
		}
	}
	return h
}

// Turns is how many combinations of the common stages are told from each other.
func (s *Simulator) Turns() int { return len(s.turns) }

// Apart is how far, relative, what is taken of a unit's ways and of their sums, with the
// ways' trimmers turned, is from what closed forms one by one make of the same board. Outside of
// where a way is simulated it is nominal, but for what the common stages do.
func (j *judge) Apart(u *Unit, deviations []float64) (ways, sums float64) {
	m := j.meter()
	m.begin()
	for k := range m.gains {
		m.gains[k] = 1 + 0.1*float64(k)
	}
	j.takeWays(u, m)
	j.takeSums(u, m)
	apart := func(is, ought float64) float64 { return math.Abs(is/ought - 1) }
	for k := range j.ideal {
		for n, t := range j.ideal[k] {
			for i, at := range t.at {
				h := j.Directly(deviations, k, n, int(at))
				ways = max(ways, apart(m.ways[k][n][i], biquad.Power(h)*t.inverse[i]), cmplx.Abs(u.At(k, n, int(at))/h-1))
			}
		}
	}
	for n, x := range j.sums {
		for i, at := range x.at {
			var plain, even complex128
			for k, v := range x.variants {
				h, g := j.Directly(deviations, k, v, int(at)), math.Sqrt(m.gains[k])
				if p := &j.ways[k]; int(at) < p.from || int(at) >= p.to {
					h, g = p.variants[p.cores[p.variants[v].core].variant].nominal[at]*u.turned(x.turn).at[at], 1
				}
				plain, even = plain+h, even+h*complex(g, 0)
			}
			sums = max(sums, apart(m.sums[n][i], biquad.Power(plain)*x.inverse[i]), apart(m.trimmed[n][i], biquad.Power(even)*x.inverse[i]))
		}
	}
	return ways, sums
}

// Variants is how many a way has, and Span the frequencies by index that it is simulated at.
func (s *Simulator) Variants(way int) int        { return len(s.ways[way].variants) }
func (s *Simulator) Span(way int) (from, to int) { return s.ways[way].from, s.ways[way].to }

package diagnosis

import (
	"fmt"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/words"
)

const (
	// louderDB is by how much a way, or all, are too loud or too quiet at least where that is a hypothesis (dB);
	// rareLevel is how much less likely it is (its logarithm) that a level is off by just so much, and rareTurned that
	// of a trimmer, or of a bench, which are there to be turned.
	louderDB              = 0.1
	rareLevel, rareTurned = -10.0, -2.0
)

// louder are the hypotheses that one way has another level than it should have, where nothing but a trimmer or a
// number makes it, and that all have, where the level of a measurement means something.
func (x *Bench) louder(t *taken) []Hypothesis {
	var out []Hypothesis
	try := func(columns []int, trimmer string, text func(db float64) string) {
		db := x.off(t, columns)
		if math.Abs(db) < louderDB {
			return
		}
		other := *t
		other.h = append([][]complex128(nil), t.h...)
		for _, c := range columns {
			other.h[c] = append([]complex128(nil), t.h[c]...)
			for f := range other.h[c] {
				other.h[c][f] *= complex(biquad.FromDB(-db), 0)
			}
		}
		h, rare := Hypothesis{Text: text(db)}, rareLevel
		if trimmer != "" {
			h.Parts = []string{trimmer}
		}
		if trimmer != "" || !x.FitLevel && len(columns) == len(x.ways) {
			rare = rareTurned
		}
		h.square = t.whole.square(x.deviation(nil, &other, x.nominalAt))
		h.lnWeight = math.Log(structural) + rare - (h.square+t.whole.lnDet)/2
		out = append(out, h)
	}
	side := func(db float64) string {
		if db < 0 {
			return words.Three(words.Round(-db, 3)) + " dB too quiet"
		}
		return words.Three(words.Round(db, 3)) + " dB too loud"
	}
	var all []int
	for c, w := range x.ways {
		all = append(all, c)
		trimmer, ok := x.trimmer(w)
		if !ok || x.FitLevel && len(x.ways) == 1 {
			continue
		}
		try([]int{c}, trimmer, func(db float64) string {
			by := "a gain of it alone"
			if trimmer != "" {
				by = "its trimmer " + trimmer + " is turned"
			}
			return fmt.Sprintf("%s is %s beside the others: %s", x.subject.Ways[w], side(db), by)
		})
	}
	if !x.FitLevel && len(all) > 1 {
		try(all, "", func(db float64) string {
			return fmt.Sprintf("every way is %s: the level that the bench plays at, or a gain in front of all", side(db))
		})
	}
	return out
}

// trimmer is that of a way, "" where a number makes its level; false of a board's way that has none: there parts do.
func (x *Bench) trimmer(way int) (string, bool) {
	if x.board == nil {
		return "", true
	}
	for _, p := range x.board.Ways[way].Ends {
		if p.Use == board.Trim {
			return p.Ref, true
		}
	}
	return "", false
}

// off is by how much (dB) columns of a measurement are louder than the nominal unit beside the others, where the
// level is fitted, or else altogether.
func (x *Bench) off(t *taken, columns []int) float64 {
	var apart, rest []float64
	for i, at := range x.places {
		h, n := t.h[at.column][at.f], x.nominalAt(i, at)
		if !t.known[at.column][at.f] || cmplx.Abs(n) < 0.1*x.peaks[at.column] || cmplx.Abs(h) < at.floor {
			continue
		}
		db := biquad.DB(h / n)
		mine := false
		for _, c := range columns {
			mine = mine || c == at.column
		}
		if mine {
			apart = append(apart, db)
		} else {
			rest = append(rest, db)
		}
	}
	if len(apart) == 0 || x.FitLevel && len(rest) == 0 {
		return 0
	}
	db := densest(apart)
	if x.FitLevel {
		db -= densest(rest)
	}
	return db
}

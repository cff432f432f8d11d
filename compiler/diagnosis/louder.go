package diagnosis

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

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

// louder are the hypotheses that one way has another level than it should have, or several have, where nothing but a trimmer
// or a number makes it, and that all have, where the level of a measurement means something.
func (x *Bench) louder(t *taken) []Hypothesis {
	var out []Hypothesis
	var all []int
	for c, w := range x.ways {
		all = append(all, c)
		trimmer, ok := x.trimmer(w)
		if !ok || x.FitLevel && (len(x.ways) == 1 || len(x.ways) == 2 && c == 1) {
			continue
		}
		by := x.off(t, []int{c})
		if math.Abs(by) < louderDB {
			continue
		}
		h, rare := Hypothesis{Text: x.oneLouder(c, by)}, rareLevel
		if trimmer != "" {
			h.Parts, rare = []string{trimmer}, rareTurned
		}
		db := make([]float64, len(x.ways))
		db[c] = by
		out = append(out, x.levels(t, h, rare, db))
	}
	if by := x.off(t, all); !x.FitLevel && len(all) > 1 && math.Abs(by) >= louderDB {
		db := make([]float64, len(x.ways))
		for c := range db {
			db[c] = by
		}
		text := fmt.Sprintf("every way is %s: the level that the bench plays at, or a gain in front of all", side(by))
		out = append(out, x.levels(t, Hypothesis{Text: text}, rareTurned, db))
	}
	if h, ok := x.severalLouder(t); ok {
		out = append(out, h)
	}
	return out
}

// oneLouder says that a way, by column, is so much (dB) louder than it should be. Of two ways whose level means nothing it may
// as well be the other.
func (x *Bench) oneLouder(c int, db float64) string {
	name := x.subject.Ways[x.ways[c]]
	trimmer, _ := x.trimmer(x.ways[c])
	if x.FitLevel && len(x.ways) == 2 {
		other, much := x.ways[1-c], "loud"
		if db > 0 {
			much = "quiet"
		}
		by := "a gain of one of them"
		if also, _ := x.trimmer(other); trimmer != "" && also != "" {
			by = fmt.Sprintf("its trimmer %s or %s is turned", trimmer, also)
		}
		return fmt.Sprintf("%s is %s beside %s, or that as much too %s: %s; a level that means something would tell which", name, side(db), x.subject.Ways[other], much, by)
	}
	by := "a gain of it alone"
	if trimmer != "" {
		by = "its trimmer " + trimmer + " is turned"
	}
	return fmt.Sprintf("%s is %s beside the others: %s", name, side(db), by)
}

// severalLouder is the hypothesis that several ways, but not all alike, are too loud or too quiet by levels of their own:
// beside the way in the middle, where a level means nothing. False where no more than one is.
func (x *Bench) severalLouder(t *taken) (Hypothesis, bool) {
	db := make([]float64, len(x.ways))
	for c := range db {
		db[c] = x.ownLevel(t, c)
	}
	beside := ""
	if x.FitLevel {
		order := slices.Clone(db)
		slices.Sort(order)
		middle := order[(len(order)-1)/2]
		beside = " beside the others"
		if c := slices.Index(db, middle); len(db) == 3 {
			beside = " beside " + x.subject.Ways[x.ways[c]]
		}
		for c := range db {
			db[c] -= middle
		}
	}
	var said, trimmers []string
	for c, by := range db {
		if math.Abs(by) < louderDB {
			db[c] = 0
			continue
		}
		trimmer, ok := x.trimmer(x.ways[c])
		if !ok {
			return Hypothesis{}, false
		}
		if trimmer != "" {
			trimmers = append(trimmers, trimmer)
		}
		said = append(said, x.subject.Ways[x.ways[c]]+" is "+side(by))
	}
	if len(said) < 2 {
		return Hypothesis{}, false
	}
	h, rare := Hypothesis{Text: words.List(said) + beside + ": a gain of each"}, rareLevel
	if len(trimmers) == len(said) {
		h.Text, h.Parts, rare = words.List(said)+beside+": their trimmers "+words.List(trimmers)+" are turned", trimmers, rareTurned
	}
	return x.levels(t, h, rare*float64(len(said)), db), true
}

// side says which way, and by how much, a level is off.
func side(db float64) string {
	if db < 0 {
		return words.Three(words.Round(-db, 3)) + " dB too quiet"
	}
	return words.Three(words.Round(db, 3)) + " dB too loud"
}

// levels weighs a hypothesis that ways are so much louder (dB, by column) than they should be; rare is the logarithm of how
// much rarer than other things that is.
func (x *Bench) levels(t *taken, h Hypothesis, rare float64, db []float64) Hypothesis {
	other := *t
	other.h = slices.Clone(t.h)
	for c, by := range db {
		other.h[c] = slices.Clone(t.h[c])
		for f := range other.h[c] {
			other.h[c][f] *= complex(biquad.FromDB(-by), 0)
		}
	}
	h.square = t.whole.square(x.deviation(nil, &other, x.nominalAt))
	h.lnWeight = math.Log(structural) + rare - (h.square+t.whole.lnDet)/2
	return h
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
	apart, rest := x.apartDB(t, func(c int) bool { return slices.Contains(columns, c) })
	if len(apart) == 0 || x.FitLevel && len(rest) == 0 {
		return 0
	}
	db := densest(apart)
	if x.FitLevel {
		db -= densest(rest)
	}
	return db
}

// ownLevel is by how much (dB) a column of a measurement is louder than the nominal unit; 0 of one in which nothing is heard.
func (x *Bench) ownLevel(t *taken, column int) float64 {
	if own, _ := x.apartDB(t, func(c int) bool { return c == column }); len(own) > 0 {
		return densest(own)
	}
	return 0
}

// apartDB is how far (dB) a measurement is from the nominal unit where both are heard, of some columns and of the rest.
func (x *Bench) apartDB(t *taken, some func(column int) bool) (apart, rest []float64) {
	for i, at := range x.places {
		h, n := t.h[at.column][at.f], x.nominalAt(i, at)
		if !t.known[at.column][at.f] || cmplx.Abs(n) < 0.1*x.peaks[at.column] || cmplx.Abs(h) < at.floor {
			continue
		}
		if db := biquad.DB(h / n); some(at.column) {
			apart = append(apart, db)
		} else {
			rest = append(rest, db)
		}
	}
	return apart, rest
}

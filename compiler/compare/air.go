package compare

import (
	"fmt"
	"math"

	"bandwright/compiler"
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// radiates reports whether the edit is about drivers or amplifiers.
func (e edit) radiates() bool { return e.effect.Has(language.Radiates) }

// listened is what a spec's modelled drivers make of it.
type listened struct {
	system *acoustic.System
	heard  *acoustic.Heard
}

// listen is the old spec with some edits, those about filters or drivers, and with all
// others.
func (d *difference) listen(on func(edit) bool) listened {
	s, _ := language.FromTree(d.blend(func(e edit) bool { return !e.wanted() && !e.radiates() || on(e) }), d.lang)
	if s == nil {
		return listened{}
	}
	system, heard := compiler.Listen(s)
	return listened{system, heard}
}

// inAir adds what an edit about drivers or amplifiers does to the sound of each way, how far
// its cone moves and up to which level it holds; false where that is nothing.
func (c *comparison) inAir(e cause) (told bool) {
	if !e.radiates() {
		return false
	}
	was := c.difference.listen(func(edit) bool { return false })
	is := c.difference.listen(func(o edit) bool { return o.said == e.said })
	if was.heard == nil || is.heard == nil {
		return false
	}
	for k := range was.heard.Ways {
		for j := range is.heard.Ways {
			a, b := &was.heard.Ways[k], &is.heard.Ways[j]
			if a.Way != b.Way || len(a.LevelDB) == 0 || len(b.LevelDB) == 0 {
				continue
			}
			said, db, hz := louder(was.system.Hz, a, b)
			said = append(said, travels(&was.system.Ways[k], &is.system.Ways[j], a, b)...)
			if said == nil {
				continue
			}
			told = true
			c.add(Change{Kind: OfAir, Way: a.Way, DB: db, AtHz: hz, Causes: []string{e.path}, Line: e.at.Line, Beyond: math.Abs(db) > c.tol.MagnitudeDB,
				Sentence: fmt.Sprintf("%s in the air: %s, because %s", a.Way, words.List(said), e.said)})
		}
	}
	return told
}

// louder is the greatest move of a way's level on the axis where it is heard.
func louder(hz []float64, a, b *acoustic.HeardWay) (said []string, db, at float64) {
	most := math.Inf(-1)
	for i := range hz {
		most = max(most, a.LevelDB[i], b.LevelDB[i])
	}
	for i, f := range hz {
		if d := b.LevelDB[i] - a.LevelDB[i]; math.Max(a.LevelDB[i], b.LevelDB[i]) > most+heardDB && math.Abs(d) > math.Abs(db)+1e-9 {
			db, at = d, f
		}
	}
	if math.Abs(db) < leastDB {
		return nil, 0, 0
	}
	return []string{decibels(db) + " at " + hertz(at)}, db, at
}

// travels is what became of a cone's excursion at full scale, and of the level up to which the
// way holds.
func travels(was, is *acoustic.Way, a, b *acoustic.HeardWay) (said []string) {
	mm := func(h *acoustic.HeardWay) string { return words.Three(h.Excursion.Value*1e3) + " mm" }
	if a.Excursion.Known && b.Excursion.Known && mm(a) != mm(b) {
		said = append(said, "its excursion at full scale went from "+mm(a)+" to "+mm(b))
	}
	holds := func(w *acoustic.Way, h *acoustic.HeardWay) (db float64) {
		db = math.Inf(1)
		for _, s := range h.Settings {
			travel, amplifier := w.Holds(s)
			for _, x := range []*float64{travel, amplifier} {
				if x != nil {
					db = math.Min(db, *x)
				}
			}
		}
		return db
	}
	if x, y := holds(was, a), holds(is, b); x != y && !math.IsInf(x, 0) && !math.IsInf(y, 0) {
		said = append(said, fmt.Sprintf("it holds to %s, before to %s", words.Level(y, "dB"), words.Level(x, "dB")))
	}
	return said
}

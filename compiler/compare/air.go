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

// listened is what a spec's drivers make of it.
type listened struct {
	system *acoustic.System
	heard  *acoustic.Heard
}

// listen is the old spec with some edits, those about filters or drivers, and with all
// others. Of ways for which now holds a measured response is the new result's.
func (c *comparison) listen(on func(edit) bool, now func(way string) bool) listened {
	d := c.difference
	s, _ := language.FromTree(d.blend(func(e edit) bool { return !e.wanted() && !e.radiates() || on(e) }), d.lang)
	if s == nil {
		return listened{}
	}
	system, heard := compiler.Listen(s, func(way string) acoustic.Source {
		from := c.old
		if now(way) {
			from = c.new
		}
		if x := from.Measured(way); x != nil {
			return x.Source()
		}
		return nil
	})
	return listened{system, heard}
}

// before is the old spec with its measured responses, as it was listened to; once.
func (c *comparison) before() listened {
	if c.was.heard == nil {
		c.was = c.listen(func(edit) bool { return false }, func(string) bool { return false })
	}
	return c.was
}

// inAir adds what an edit about drivers or amplifiers does to the sound of each way, how far
// its cone moves and up to which level it holds; false where that is nothing.
func (c *comparison) inAir(e cause) bool {
	if !e.radiates() {
		return false
	}
	is := c.listen(e.has, func(string) bool { return false })
	return c.moves(c.before(), is, Change{Causes: []string{e.path}, Line: e.at.Line}, e.said)
}

// moves adds what became of each way from was to is, or of their sum where that alone
// moved; false where that is nothing. by has causes and line.
func (c *comparison) moves(was, is listened, by Change, why string) (told bool) {
	if was.heard == nil || is.heard == nil {
		return false
	}
	tell := func(way string, db, hz float64, said []string) {
		if said == nil {
			return
		}
		told = true
		x := by
		x.Kind, x.Way, x.DB, x.AtHz, x.Beyond = OfAir, way, db, hz, math.Abs(db) > c.tol.MagnitudeDB
		x.Sentence = fmt.Sprintf("%s in the air: %s, because %s", way, words.List(said), why)
		c.add(x)
	}
	for k := range was.heard.Ways {
		for j := range is.heard.Ways {
			a, b := &was.heard.Ways[k], &is.heard.Ways[j]
			if a.Way != b.Way || len(a.LevelDB) == 0 || len(b.LevelDB) == 0 {
				continue
			}
			said, db, hz := louder(was.system.Hz, a.LevelDB, b.LevelDB)
			tell(a.Way, db, hz, append(said, travels(&was.system.Ways[k], &is.system.Ways[j], a, b)...))
		}
	}
	if !told && was.system.Whole() && is.system.Whole() {
		said, db, hz := louder(was.system.Hz, was.heard.SumDB, is.heard.SumDB)
		tell(sumOfWays, db, hz, said)
	}
	return told
}

// louder is the greatest move of a level on the axis where it is heard.
func louder(hz, a, b []float64) (said []string, db, at float64) {
	most := math.Inf(-1)
	for i := range hz {
		most = max(most, a[i], b[i])
	}
	for i, f := range hz {
		if d := b[i] - a[i]; math.Max(a[i], b[i]) > most+heardDB && math.Abs(d) > math.Abs(db)+1e-9 {
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

package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// cause is one edit, or some that mean something only together, with what it alone moves.
type cause struct {
	edit
	all   []string // what its edits say
	moves []move   // nil where the spec with this edit alone means nothing
}

// has reports whether an edit is one of the cause.
func (e cause) has(o edit) bool { return slices.Contains(e.all, o.said) }

func (e cause) of(way string) (m move, any bool) {
	for _, m := range e.moves {
		if m.way == way {
			return m, m.any()
		}
	}
	return move{}, false
}

// causes compares two specs line by line.
func (c *comparison) causes() {
	c.a, c.b = c.ideal(c.from), c.ideal(c.to)
	var found []cause
	for _, e := range c.edits {
		found = append(found, c.alone(cause{edit: e, all: []string{e.said}}))
	}
	found = c.joined(found)
	c.total = c.between(c.a, c.b)
	c.single(found, c.total)
	c.together(found, c.total)
}

// alone is a cause with what it moves by itself.
func (c *comparison) alone(x cause) cause {
	if x.wanted() {
		if w := c.difference.prototype(x.has); w != nil {
			x.moves = c.between(c.a, c.ideal(w))
		}
	}
	return x
}

// joined are causes of which those in one mapping that mean nothing alone are one where they do together, as a
// mounting and what only it has.
func (c *comparison) joined(found []cause) (out []cause) {
	senseless := func(x cause) bool { return x.wanted() && x.moves == nil && !x.stops }
	in := func(x cause) string { return x.path[:max(0, strings.LastIndexByte(x.path, '.'))] }
	done := map[string]bool{}
	for i, x := range found {
		if done[x.said] {
			continue
		}
		if senseless(x) {
			both := x
			for _, y := range found[i+1:] {
				if senseless(y) && in(y) == in(x) {
					both.said, both.all, both.effect = both.said+" and "+y.said, append(both.all, y.said), both.effect|y.effect
				}
			}
			if both = c.alone(both); len(both.all) > 1 && both.moves != nil {
				x = both
			}
		}
		for _, said := range x.all {
			done[said] = true
		}
		out = append(out, x)
	}
	return out
}

// single adds the sentences of every edit alone.
func (c *comparison) single(found []cause, total []move) {
	measured := c.measured()
	for _, e := range found {
		told := c.moved(e, total)
		told = measured[e.said] || c.inAir(e) || told
		if told && !e.stops {
			continue
		}
		kind, text := OfText, e.said
		switch {
		case e.stops:
			kind = OfOffer
		case e.moves != nil && slices.ContainsFunc(e.moves, move.little):
			text += fmt.Sprintf(", which moves no response by %g dB or %g deg at any setting that both have", leastDB, leastDeg)
		case e.moves != nil:
			text += ", which changes no response at any setting that both have"
		case e.wanted():
			text += ", which is not valid without the other changes"
		}
		text += c.sameFile(e.edit)
		c.add(Change{Kind: kind, Causes: []string{e.path}, Line: e.at.Line, Beyond: e.stops, Sentence: text})
	}
	for _, t := range total {
		c.out.Regression = c.out.Regression || c.tol.beyond(t)
	}
}

// sameFile says of an edit that names another file that only its name is another; "" of any other edit.
func (c *comparison) sameFile(e edit) string {
	for was, sum := range c.old.Inputs {
		for is, now := range c.new.Inputs {
			if sum == now && e.said == went(e.path, was, is) {
				return ": the same file under another name"
			}
		}
	}
	return ""
}

// moved adds what an edit does to each way and to the sum; false where that is
// nothing.
func (c *comparison) moved(e cause, total []move) (told bool) {
	sum, _ := e.of(sumOfWays)
	all := uniform(e.moves)
	for i, m := range e.moves {
		if !m.any() || all && i != widest(e.moves) {
			continue
		}
		name := m.way
		if all {
			name = "every way"
		}
		if m.way == sumOfWays && (math.Abs(m.db) < leastDB || told && through(e.moves)) {
			continue
		}
		text, by := c.say(m, sum, len(e.moves) > 1)
		beyond := c.tol.beyond(m) && slices.ContainsFunc(total, func(t move) bool { return t.way == m.way && c.tol.beyond(t) })
		c.add(Change{Kind: OfResponse, Way: name, DB: by.db, AtHz: by.hz, Setting: c.choices(by.combo), Causes: []string{e.path}, Line: e.at.Line,
			Beyond: beyond, Sentence: name + ": " + text + ", because " + e.said})
		told = true
	}
	return told
}

// through reports whether the ways themselves told nothing but delay, polarity
// or phase: then the sum is in their sentences already.
func through(moves []move) bool {
	return !slices.ContainsFunc(moves, func(m move) bool { return m.way != sumOfWays && math.Abs(m.db) >= leastDB })
}

// widest is which of some moves is the greatest in dB.
func widest(moves []move) int {
	at := 0
	for i, m := range moves {
		if math.Abs(m.db) > math.Abs(moves[at].db)+1e-9 {
			at = i
		}
	}
	return at
}

// uniform reports whether all ways and the sum moved alike, as by a common
// filter.
func uniform(moves []move) bool {
	if len(moves) < 3 {
		return false
	}
	first := moves[0]
	for _, m := range moves[1:] {
		for i := range m.perLine {
			if math.Abs(m.perLine[i]-first.perLine[i]) > leastDB {
				return false
			}
		}
		if m.way != sumOfWays && (m.turned != first.turned || math.Abs(m.lateS-first.lateS) >= leastS) {
			return false
		}
	}
	return true
}

// say is what happened to one way: its level, or where that did not change,
// its delay, polarity or phase with what they do to the sum; and whatever else
// is beyond the tolerances. by is the move that it is sorted by.
func (c *comparison) say(m, sum move, withSum bool) (text string, by move) {
	if math.Abs(m.db) >= leastDB {
		return words.List(append([]string{c.level(m)}, c.further(m)...)), m
	}
	switch {
	case m.turned:
		text = "its polarity is reversed"
	case m.lateS != 0:
		text = late(m.lateS)
	default:
		text = m.phase()
	}
	if withSum && math.Abs(sum.db) >= leastDB {
		return text + ", which changes the sum by " + c.level(sum), sum
	}
	return text, move{}
}

// further is what of a move beside its level is beyond the tolerances; phase only
// where the level is not.
func (c *comparison) further(m move) (out []string) {
	if m.turned {
		out = append(out, "its polarity is reversed")
	}
	if math.Abs(m.lateS) > c.tol.DelayS {
		out = append(out, late(m.lateS))
	}
	if math.Abs(m.deg) > c.tol.PhaseDeg && !c.tol.level(m) {
		out = append(out, m.phase())
	}
	return out
}

// late is a delay (s) as "20.0 us later".
func late(s float64) string {
	if s < 0 {
		return words.Seconds(-s) + " earlier"
	}
	return words.Seconds(s) + " later"
}

// phase is "+2.6 deg at 440 Hz".
func (m move) phase() string {
	digits := 1
	if math.Abs(m.deg) < 0.1 { // what would read as nothing
		digits = 2
	}
	return fmt.Sprintf("%+.*f deg at %s", digits, m.deg, hertz(m.degHz))
}

// level is "+0.21 dB at 256 Hz with placement wall".
func (c *comparison) level(m move) string {
	text := decibels(m.db)
	if m.flat {
		text += " throughout"
	} else {
		text += " at " + hertz(m.hz)
	}
	if m.below > 0 {
		text += fmt.Sprintf(", %.0f dB below its peak", m.below)
	}
	return text + c.where(m.combo)
}

func decibels(x float64) string {
	switch {
	case math.Abs(x) >= verify.MostErrorDB:
		return words.Level(x, "dB") + " or more"
	case math.Abs(x) < 0.01:
		return fmt.Sprintf("%+.3f dB", x)
	}
	return words.Level(x, "dB")
}

// hertz is a frequency to three digits.
func hertz(f float64) string { return words.Hz(words.Round(f, 3)) }

// named is the line of a cause, as it was before where another line stands in its place now.
func (e cause) named(found []cause) string {
	if e.at == (language.Pos{}) && slices.ContainsFunc(found, func(o cause) bool { return o.path == e.path && o.said != e.said }) {
		return "the former " + e.path
	}
	return e.path
}

// together adds what edits do only jointly, and what all do together.
func (c *comparison) together(found []cause, total []move) {
	for _, t := range total {
		var paths, named []string
		var line int
		alone := make([]float64, len(t.perLine))
		further := ""
		for _, e := range found {
			if !e.wanted() {
				continue
			}
			m, any := e.of(t.way)
			if e.moves == nil || any {
				if paths == nil {
					line = e.at.Line
				}
				paths, named = append(paths, e.path), append(named, e.named(found))
				if e.moves != nil {
					further = "a further "
				}
			}
			for i, d := range m.perLine {
				alone[i] += d
			}
		}
		if len(paths) < 2 {
			continue
		}
		rest := c.rest(t.way, alone)
		worthIt := math.Abs(rest.db) >= 10*leastDB
		if t.way == sumOfWays {
			worthIt = math.Abs(rest.db) > c.tol.MagnitudeDB // every two lines interact in a sum
		}
		if worthIt {
			c.add(Change{Kind: OfInteraction, Way: t.way, DB: rest.db, AtHz: rest.hz, Setting: c.choices(rest.combo), Causes: paths, Line: line,
				Beyond:   math.Abs(rest.db) > c.tol.MagnitudeDB && c.tol.beyond(t),
				Sentence: fmt.Sprintf("%s: %s%s by interaction, because %s act together", t.way, further, c.level(rest), lines(named))})
		}
		c.several = true
		said := c.further(t)
		if math.Abs(t.db) >= leastDB {
			said = append([]string{c.level(t)}, said...)
		}
		if said != nil {
			c.out.Totals = append(c.out.Totals, t.way+" "+words.List(said))
		}
	}
}

// rest is the greatest part of a way's move that its edits alone do not add up
// to, where it is heard.
func (c *comparison) rest(way string, alone []float64) move {
	return c.heard(way, c.a, c.b, math.Max, func(k, i int) float64 { return alone[k*len(c.hz)+i] })
}

// heard is the greatest move of a way from a to b beside what is known, dB by
// combination and frequency, where it is heard: on either side or on both, as
// level joins the two.
func (s *scope) heard(way string, a, b *responses, level func(x, y float64) float64, known func(combo, i int) float64) move {
	out := move{way: way}
	for k := range s.combos {
		x, y := a.of(way, k), b.of(way, k)
		px, py := peak(x), peak(y)
		for i, hz := range s.hz {
			if level(biquad.DB(x[i])-px, biquad.DB(y[i])-py) < heardDB {
				continue
			}
			if d := ratio(x[i], y[i]) - known(k, i); math.Abs(d) > math.Abs(out.db)+1e-9 {
				out.db, out.hz, out.combo = d, hz, k
			}
		}
	}
	return out
}

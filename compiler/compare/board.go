package compare

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
)

// boardLeastDB is the least change of a board's response that is told (dB):
// parts of 1 % move it further.
const boardLeastDB = 0.01

// board adds what the board's response changed beside the prototype: beyond
// the tolerances as a regression, within them as it is. A board's response is
// known by its table alone, as an accepted result does not hold how the board is
// wired.
func (c *comparison) board() {
	if c.old.Board == nil || c.new.Board == nil {
		return
	}
	o, n := c.old.Board.Response, c.new.Board.Response
	if o == nil && n == nil {
		return
	}
	sub := comparison{scope: c.scope, old: c.old, new: c.new}
	var ways []string
	if o != nil && n != nil {
		ways = sharedWays(o, n)
		sub.narrowTo(o, n, ways)
	}
	if len(ways) == 0 || len(sub.hz) == 0 || len(sub.combos) == 0 {
		c.add(Change{Kind: OfPart, Sentence: "the board's responses cannot be compared: the two results have no table of it with a way, frequency and setting in common"})
		return
	}
	if c.a != nil {
		sub.a, sub.b = sub.ideal(c.from), sub.ideal(c.to)
	}
	old, new := sub.sides()
	paths, why := c.builtAnew()
	beside := ""
	if _, _, wanted := c.having(0); wanted && c.a != nil {
		beside = ", beyond the spec's change"
	}
	for _, m := range c.beside(&sub.scope, sub.a, sub.b, sub.tabled(o, ways, old), sub.tabled(n, ways, new)) {
		beyond := c.tol.beyond(m)
		if !beyond && math.Abs(m.db) < boardLeastDB {
			continue
		}
		c.add(Change{Kind: OfRealisation, Way: m.way, DB: m.db, AtHz: m.hz, Setting: sub.choices(m.combo), Causes: paths, Beyond: beyond,
			Sentence: fmt.Sprintf("%s: %s on the board%s, %s", m.way, sub.worst(m), beside, why)})
	}
}

// sharedWays are the ways that two tables have, in the order of the new one.
func sharedWays(o, n *result.Table) (out []string) {
	for _, r := range n.Rows {
		in := func(x result.TableRow) bool { return x.Way == r.Way }
		if !slices.Contains(out, r.Way) && slices.ContainsFunc(o.Rows, in) {
			out = append(out, r.Way)
		}
	}
	return out
}

// row is a way's in a combination by name, nil where the table has none.
func row(t *result.Table, way string, names map[string]string) *result.TableRow {
	for i, r := range t.Rows {
		fits := r.Way == way
		for s, choice := range r.Setting {
			fits = fits && names[s] == choice
		}
		if fits {
			return &t.Rows[i]
		}
	}
	return nil
}

// tabled are the responses of a table, which has the frequencies of the scope
// and the combinations.
func (s *scope) tabled(t *result.Table, ways []string, combos []map[string]string) *responses {
	return realised(ways, combos, func(k int, names map[string]string) []complex128 {
		r := row(t, ways[k], names)
		h := make([]complex128, len(s.hz))
		for i, f := range s.hz {
			at := slices.Index(t.Hz, f)
			sin, cos := math.Sincos(r.Deg[at] * math.Pi / 180)
			size := biquad.FromDB(r.DB[at])
			h[i] = complex(size*cos, size*sin)
		}
		return h
	})
}

// narrowTo leaves the frequencies and combinations that both tables have.
func (s *scope) narrowTo(o, n *result.Table, ways []string) {
	s.hz = nil
	for _, f := range n.Hz {
		if slices.Contains(o.Hz, f) {
			s.hz = append(s.hz, f)
		}
	}
	all := s.combos
	s.combos = nil
	for k, combo := range all {
		there := true
		for _, w := range ways {
			there = there && row(o, w, combo.old) != nil && row(n, w, combo.new) != nil
		}
		if !there && k == 0 {
			return // the rest is told as what it has beside the default
		}
		if there {
			s.combos = append(s.combos, combo)
		}
	}
}

// builtAnew names what can have changed a board: the lines of the spec that it
// is chosen by, the filters, or Bandwright itself.
func (c *comparison) builtAnew() (paths []string, why string) {
	paths, said, wanted := c.having(language.RealisesBoard)
	if wanted {
		said = append(said, "the changed filters were built again")
	}
	return c.because(paths, said)
}

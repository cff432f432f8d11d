package compare

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// boardLeastDB is the least change of a board's response that is told (dB):
// parts of 1 % move it further.
const boardLeastDB = 0.01

// board adds what the board's response changed beside the prototype: beyond
// the tolerances as a regression, within them as it is. Both boards are analysed
// from their accepted parts at every frequency and combination of the scope.
func (c *comparison) board() {
	if c.old.Board == nil || c.new.Board == nil || !c.old.Board.Wired() && !c.new.Board.Wired() {
		return
	}
	if c.old.Board.Bare() || c.new.Board.Bare() {
		c.add(Change{Kind: OfPart, Sentence: "the board's responses are not compared: a NAME.json does not hold how a board is wired, as specs and accepted results do"})
		return
	}
	same := c.old.Board.SameCircuit(c.new.Board)
	if _, _, wanted := c.having(0); same && !(wanted && c.a != nil) {
		return
	}
	o, n, err := c.boards(same)
	switch {
	case err != nil:
		c.add(Change{Kind: OfPart, Beyond: true, Sentence: fmt.Sprintf("the board's responses cannot be compared: %v", err)})
		return
	case !slices.ContainsFunc(n.ways, func(way string) bool { return o.way(way) >= 0 }):
		c.add(Change{Kind: OfPart, Sentence: "the board's responses cannot be compared: the two results have no way in common"})
		return
	}
	paths, why := c.builtAnew()
	sub := c.scope
	sub.nearOnly = c.a != nil
	whole := c.whole(&sub, o, n)
	var staying []string
	for _, m := range c.beside(&sub, c.a, c.b, o, n) {
		x := c.own(m, whole)
		if !x.beyond && !x.behind && (x.still || math.Abs(m.db) < boardLeastDB) {
			continue
		}
		ch := Change{Kind: OfRealisation, Way: m.way, DB: x.db, AtHz: x.hz, Setting: c.choices(x.combo), Causes: paths, Beyond: x.beyond}
		switch {
		case x.behind && c.heldAndKept():
			staying = append(staying, m.way)
			continue
		case x.behind && same:
			ch.Sentence = fmt.Sprintf("%s: the board does not follow the spec's change: no part of it changed", m.way)
		case x.behind:
			ch.Sentence = fmt.Sprintf("%s: the board does not follow the spec's change: its response is as it was", m.way)
		default:
			ch.Sentence = fmt.Sprintf("%s: %s on the board%s, %s", m.way, c.worst(x.move), x.beside, why)
		}
		c.add(ch)
	}
	if staying != nil {
		c.add(Change{Kind: OfRealisation, Causes: paths, Sentence: words.List(staying) + ": the held board stays as it is: that keeps the promises of the changed spec"})
	}
}

// heldAndKept reports whether a board is held and keeps what is promised of boards: then
// it stays on purpose.
func (c *comparison) heldAndKept() bool {
	return c.new.Board.Held != "" &&
		!slices.ContainsFunc(c.new.Findings, func(f result.AcceptedFinding) bool { return f.Realisation == board.RealisationName && !f.Kept })
}

// boards are the responses of both boards; same says that they are one circuit.
func (c *comparison) boards(same bool) (o, n *responses, err error) {
	old, new := c.sides()
	if n, err = c.analysed(c.new.Board, new); err != nil || same && slices.EqualFunc(old, new, maps.Equal) {
		return n, n, err
	}
	o, err = c.analysed(c.old.Board, old)
	return o, n, err
}

// analysed are the responses of a board.
func (s *scope) analysed(b *result.AcceptedBoard, combos []map[string]string) (*responses, error) {
	h, err := b.Responses(combos, s.hz)
	if err != nil {
		return nil, err
	}
	out := &responses{h: h, late: make([]float64, len(b.Outputs)), sign: slices.Repeat([]float64{1}, len(b.Outputs))}
	for _, w := range b.Outputs {
		out.ways = append(out.ways, w.Way)
	}
	return out, nil
}

// builtAnew names what can have changed a board: the lines of the spec that it
// is chosen by, the files that it names, the filters, or Bandwright itself.
func (c *comparison) builtAnew() (paths []string, why string) {
	paths, said, wanted := c.having(language.RealisesBoard)
	said = append(said, c.otherFiles()...)
	switch {
	case wanted && c.new.Board.Held != "":
		said = append(said, "the changed filters ask for it")
	case wanted:
		said = append(said, "the changed filters were built again")
	}
	return c.because(paths, said)
}

// otherFiles are those that both specs name and that hold something else now.
func (c *comparison) otherFiles() (said []string) {
	for _, name := range slices.Sorted(maps.Keys(c.new.Inputs)) {
		if was, named := c.old.Inputs[name]; named && was != c.new.Inputs[name] && !c.isResponse(name) {
			said = append(said, name+" is another file")
		}
	}
	return said
}

package batch

import (
	"context"
	"slices"
	"sort"

	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
)

// Purchase is which class every resistor and capacitor is bought in: the loosest with
// which the promised share of boards is within the limit.
type Purchase struct {
	// Parts are those that come in more than one class, in the order of the signal.
	Parts []Bought
	// Kept is false where not even the closest classes of all parts keep the promise;
	// then every part has its closest.
	Kept bool

	index map[string]int
}

// Bought is a part with the classes that it comes in, the loosest first, and the one
// that is bought.
type Bought struct {
	Ref     string
	Kind    netlist.Kind
	Value   float64 // ohm or farad
	Classes []language.Class
	Chosen  int
}

// Class is the one that is bought.
func (b *Bought) Class() language.Class { return b.Classes[b.Chosen] }

// Of is what is bought of a reference; false for a part that comes in one class only,
// or where nothing is chosen.
func (p *Purchase) Of(ref string) (Bought, bool) {
	if p == nil {
		return Bought{}, false
	}
	i, known := p.index[ref]
	if !known {
		return Bought{}, false
	}
	return p.Parts[i], true
}

const (
	// searchedBoards is how many boards a first division into close and loose parts is
	// found with; all boards have the last word. clearly is the distance from the promised
	// share, over six standard deviations of that many boards, from which they decide.
	searchedBoards, clearly = 1000, 0.05
	// mostRounds is how often the choice is amended after a simulation.
	mostRounds = 6
	// mostDoubt is how many boards too few (a share of all) a part is tried looser with
	// that the first order says misses.
	mostDoubt = 0.003
)

// chooser chooses classes.
type chooser struct {
	*judge
	spec    *language.Board
	ctx     context.Context
	terms   Terms
	trimDB  float64 // 0 where boards are judged without trim
	classes [][]language.Class
	need    int // how many boards have to be inside
	linear
}

// classes are what each part can be bought in. Capacitors above the stock's range come
// as they come.
func (s *Simulator) classes(b *language.Board) [][]language.Class {
	var out [][]language.Class
	for _, p := range s.Parts {
		from := &b.Resistors
		if p.Kind == netlist.Capacitor {
			from = &b.Capacitors
		}
		c := from.ClassesOf(p.Value)
		if p.Tolerance != c[0].Tolerance {
			c = c[:0]
		}
		out = append(out, c)
	}
	return out
}

// purchase chooses the class of every part and gives the parts its figures: those with
// the fewest steps from the loosest classes, all parts together, that are found. From an
// order of steps by what each is expected to do, the fewest of its first steps that keep
// the yield of some boards are taken; then parts go one class down or up, and change
// places, by the first order around a simulation of all boards, until a simulation finds
// no part that can be looser by itself.
func (j *judge) purchase(ctx context.Context, b *language.Board, t Terms) *Purchase {
	c := j.chooser(ctx, b, t)
	if !slices.ContainsFunc(c.classes, func(all []language.Class) bool { return len(all) > 1 }) {
		return nil
	}
	chosen, kept := c.choose()
	c.buy(chosen)
	out := &Purchase{Kept: kept, index: map[string]int{}}
	for i, all := range c.classes {
		if len(all) > 1 {
			p := j.Parts[i]
			out.index[p.Ref] = len(out.Parts)
			out.Parts = append(out.Parts, Bought{p.Ref, p.Kind, p.Value, all, chosen[i]})
		}
	}
	return out
}

func (j *judge) chooser(ctx context.Context, b *language.Board, t Terms) *chooser {
	return &chooser{judge: j, spec: b, ctx: ctx, terms: t, trimDB: b.TrimDB, classes: j.classes(b), need: rank(Boards, t.Share) + 1}
}

// buy gives the parts the figures of their classes.
func (c *chooser) buy(chosen []int) {
	for i, k := range chosen {
		if len(c.classes[i]) > 1 {
			c.Parts[i].Tolerance, c.Parts[i].Tempco = c.classes[i][k].Tolerance, c.classes[i][k].Tempco
		}
	}
}

// inside counts, of so many boards, those that are within the limit.
func (c *chooser) inside(chosen []int, boards int) int {
	l := c.lotWith(chosen)
	l.boards = boards
	o := c.run(c.ctx, l, unpaired)
	return yield(o.trimmed, o.rows, c.terms.LimitDB).Inside
}

// cost is how many steps all parts together are from their loosest classes.
func cost(chosen []int) int {
	n := 0
	for _, k := range chosen {
		n += k
	}
	return n
}

// choose finds the classes; kept is false where not even the closest keep the promise.
func (c *chooser) choose() (chosen []int, kept bool) {
	loose, close := make([]int, len(c.Parts)), make([]int, len(c.Parts))
	for i, all := range c.classes {
		close[i] = max(0, len(all)-1)
	}
	if c.holds(loose) {
		return loose, true
	}
	if !c.holds(close) {
		return close, false
	}
	c.linear = c.linearised()
	order := c.order()
	first := func(n int) []int {
		out := slices.Clone(loose)
		for _, p := range order[:n] {
			out[p]++
		}
		return out
	}
	part := rank(searchedBoards, c.terms.Share) + 1
	now := first(sort.Search(len(order), func(n int) bool { return c.inside(first(n), searchedBoards) >= part }))
	best := c.refined(now, close)
	for range mostRounds {
		if c.ctx.Err() != nil || c.inside(best, Boards) >= c.need {
			return best, true
		}
		// Boards that were not looked at were too near the limit.
		best = c.survey(best, nil).amended(c.need, 0)
	}
	return close, c.inside(close, Boards) >= c.need
}

// holds reports whether a choice keeps the promise: of some boards where that is clear.
func (c *chooser) holds(chosen []int) bool {
	switch share := float64(c.inside(chosen, searchedBoards)) / searchedBoards; {
	case share < c.terms.Share-clearly:
		return false
	case share > c.terms.Share+clearly:
		return true
	}
	return c.inside(chosen, Boards) >= c.need
}

// refined amends a choice until simulations agree; close is one that keeps the promise.
func (c *chooser) refined(now, close []int) []int {
	best, spare := close, 0
	var s *survey
	for range mostRounds {
		if c.ctx.Err() != nil {
			return best
		}
		s = c.survey(now, s)
		at := s.inside()
		if at < c.need {
			spare += c.need - at
		} else if cost(now) < cost(best) {
			best = now
		}
		next := s.clone().amended(c.need, spare)
		if slices.Equal(next, now) {
			break
		}
		now = next
	}
	refused := map[int]bool{}
	for c.ctx.Err() == nil {
		if s == nil || !slices.Equal(s.chosen, best) {
			s = c.survey(best, s)
		}
		p := s.looser(refused)
		if p < 0 {
			break
		}
		best = slices.Clone(best)
		best[p]--
	}
	return best
}

// looser is a part that can go one class looser, by simulations of the boards that the
// first order leaves in doubt; -1 for none.
func (s *survey) looser(refused map[int]bool) int {
	for _, o := range s.ranked(-1) {
		if o.inside < s.need-int(mostDoubt*Boards) {
			break
		}
		if refused[o.part] {
			continue
		}
		if s.simulated(o.part, s.chosen[o.part]-1) >= s.need {
			return o.part
		}
		refused[o.part] = true
	}
	return -1
}

// survey simulates all boards, or those near the limit of an earlier survey of much the
// same classes, and keeps what is near the limit.
func (c *chooser) survey(chosen []int, earlier *survey) *survey {
	l := c.lotWith(chosen)
	numbers := make([]int, 0, Boards)
	if earlier == nil {
		for n := range Boards {
			numbers = append(numbers, n)
		}
	} else {
		for _, m := range earlier.boards {
			numbers = append(numbers, m.number)
		}
	}
	chunks := make([][]marginal, (len(numbers)+inTurn-1)/inTurn)
	parallel.Each(len(chunks), func(chunk int) {
		w := c.worker(l)
		var m *marginal
		w.look = func(now *meter) { c.note(m, now) }
		for _, n := range numbers[chunk*inTurn : min(len(numbers), (chunk+1)*inTurn)] {
			if c.ctx.Err() != nil {
				return
			}
			m = &marginal{number: n}
			w.make(n)
			if m.near != nil {
				m.drawn = slices.Clone(w.drawn)
				chunks[chunk] = append(chunks[chunk], *m)
			}
		}
	})
	return &survey{chooser: c, chosen: slices.Clone(chosen), boards: slices.Concat(chunks...)}
}

// lotWith is the lot of all boards with parts of some classes.
func (c *chooser) lotWith(chosen []int) lot {
	c.buy(chosen)
	l := c.lotOf(c.spec)
	l.trimDB = c.trimDB
	return l
}

// simulated counts the boards within the limit with a part in another class, of which
// those are simulated that the first order leaves in doubt.
func (s *survey) simulated(part, class int) int {
	const doubt = 0.04 // of the limit: what the first order may be off for one part
	inside := Boards
	var doubtful []int
	for i := range s.boards {
		worst := s.worst(&s.boards[i], part, s.change(part, class)) / s.terms.LimitDB
		switch {
		case worst > 1+doubt:
			inside--
		case worst > 1-doubt:
			doubtful = append(doubtful, s.boards[i].number)
		}
	}
	chosen := slices.Clone(s.chosen)
	chosen[part] = class
	l := s.lotWith(chosen)
	out := make([]bool, len(doubtful))
	parallel.Each((len(doubtful)+inTurn-1)/inTurn, func(chunk int) {
		w, rows := s.worker(l), s.rows()
		plain, trimmed := make([]reach, rows), make([]reach, rows)
		for i := chunk * inTurn; i < min(len(doubtful), (chunk+1)*inTurn); i++ {
			w.make(doubtful[i])
			w.keep(plain, trimmed)
			out[i] = yield(trimmed, rows, s.terms.LimitDB).Inside == 0
		}
	})
	for _, o := range out {
		if o {
			inside--
		}
	}
	return inside
}

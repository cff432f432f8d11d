package batch

import (
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/parallel"
)

// watched is from which share of the limit on a deviation is watched: changes of a few
// parts take no other beyond it.
const watched = 0.7

// linear is what parts do to the first order.
type linear struct {
	spots   []place     // every place that boards are looked at
	nominal []float64   // deviation of the nominal board at each place (dB)
	pulls   [][]float64 // of each part at each place (dB for a deviation of 1)
	shares  [][]float64 // of each way in the level of the sum, by place; nil at a way's
	ways0   [][]int     // of each way, the places of its default variant
	first   [][]int     // the first place of each variant of each way, and of each sum
}

// linearised works out what parts do.
func (c *chooser) linearised() linear {
	var l linear
	sens := c.sensitivities()
	c.places(func(x place, db float64) {
		for len(l.first) <= x.row {
			l.first = append(l.first, nil)
		}
		for len(l.first[x.row]) <= x.in {
			l.first[x.row] = append(l.first[x.row], len(l.spots))
		}
		l.spots, l.nominal = append(l.spots, x), append(l.nominal, db)
	})
	l.pulls, l.shares = make([][]float64, len(c.Parts)), make([][]float64, len(l.spots))
	for p := range l.pulls {
		l.pulls[p] = make([]float64, len(l.spots))
	}
	l.ways0 = make([][]int, len(c.ways))
	for i, x := range l.spots {
		if x.row < len(c.ways) {
			if x.in == 0 {
				l.ways0[x.row] = append(l.ways0[x.row], i)
			}
			continue
		}
		total := complex128(0)
		for k, v := range c.sums[x.in].variants {
			total += c.ways[k].variants[v].nominal[x.at]
		}
		for k, v := range c.sums[x.in].variants {
			l.shares[i] = append(l.shares[i], real(c.ways[k].variants[v].nominal[x.at]/total))
		}
	}
	const together = 64
	parallel.Each((len(l.spots)+together-1)/together, func(chunk int) {
		one := make([]float64, len(c.Parts))
		for i := chunk * together; i < min(len(l.spots), (chunk+1)*together); i++ {
			c.effects(one, sens, l.spots[i])
			for p, e := range one {
				l.pulls[p][i] = e
			}
		}
	})
	return l
}

// order is in which order parts go a class closer, from the loosest ones: each time
// the one that takes most from the share of boards beyond the limit, taking every
// place by itself and deviations as normal.
func (c *chooser) order() []int {
	chosen := make([]int, len(c.Parts))
	variance := make([]float64, len(c.spots))
	after := make([][]float64, len(c.Parts)) // effects after trim, squared
	weights := make([]float64, len(c.spots))
	c.buy(chosen)
	sigma := c.lotOf(c.spec).sigmas()
	// A tolerance of 1 has unit of a variance.
	unit := 1.0 / 3
	if c.normal {
		unit = 1.0 / 9
	}
	for p := range after {
		after[p] = c.trimmedEffects(p)
		for x, e := range after[p] {
			after[p][x] = e * e
			variance[x] += e * e * sigma[p] * sigma[p]
		}
	}
	var out []int
	for {
		for x, v := range variance {
			weights[x] = 0
			if v > 0 {
				margin := math.Max(c.terms.LimitDB-math.Abs(c.nominal[x]), 0.1*c.terms.LimitDB)
				weights[x] = math.Exp2(-margin*margin/(2*math.Ln2*v)) * margin / (v * math.Sqrt(v))
			}
		}
		best, most := -1, -1.0
		for p, k := range chosen {
			if k+1 >= len(c.classes[p]) {
				continue
			}
			gain := 0.0
			for x, e := range after[p] {
				gain += e * weights[x]
			}
			a, b := c.classes[p][k].Tolerance, c.classes[p][k+1].Tolerance
			if gain *= a*a - b*b; gain > most {
				best, most = p, gain
			}
		}
		if best < 0 {
			return out
		}
		k := chosen[best]
		a, b := c.classes[best][k].Tolerance, c.classes[best][k+1].Tolerance
		for x, e := range after[best] {
			variance[x] = math.Max(0, variance[x]-e*unit*(a*a-b*b))
		}
		chosen[best]++
		out = append(out, best)
	}
}

// trimmedEffects are a part's effects at every place; on boards with trimmers, without
// their mean over each way in its default variant, which trimmers take away.
func (c *chooser) trimmedEffects(part int) []float64 {
	out := slices.Clone(c.pulls[part])
	if c.trimDB == 0 {
		return out
	}
	levels := make([]float64, len(c.ways))
	for k, places := range c.ways0 {
		for _, x := range places {
			levels[k] += c.pulls[part][x] / float64(len(places))
		}
	}
	for i, x := range c.spots {
		if x.row < len(c.ways) {
			out[i] -= levels[x.row]
			continue
		}
		for k, s := range c.shares[i] {
			out[i] -= s * levels[k]
		}
	}
	return out
}

// marginal is a board with deviations near the limit.
type marginal struct {
	number int
	drawn  []float64
	near   []deviant
	// trims are, of each way, the places that its trimmer is set by, up and down; nil
	// on boards without, -1 where the trimmer is at its end.
	trims [][2]int
}

// deviant is a deviation near the limit (dB), or beyond.
type deviant struct {
	place int
	db    float64
}

// note takes the peaks of deviations near the limit from a state of a board.
func (c *chooser) note(m *marginal, now *meter) {
	ways := len(c.ways)
	if c.trimDB > 0 && m.trims == nil {
		m.trims = make([][2]int, ways)
		for k := range m.trims {
			m.trims[k] = c.trimPlaces(now, k)
		}
	}
	for k := range now.ways {
		for n, ratios := range now.ways[k] {
			c.peaks(m, ratios, c.first[k][n], now.gains[k])
		}
	}
	for n := range c.sums {
		c.peaks(m, now.trimmed[n], c.first[ways][n], 1)
	}
}

// trimPlaces are the places that a way's trimmer is set by.
func (c *chooser) trimPlaces(now *meter, way int) [2]int {
	e, at := c.byDefault(now, way), &c.ideal[way][0]
	limit := biquad.FromDB(2 * c.trimDB)
	if g := 1 / math.Sqrt(e.most*e.least); g >= limit || g <= 1/limit {
		return [2]int{-1, -1}
	}
	return [2]int{c.first[way][0] + slices.Index(at.at, e.mostAt), c.first[way][0] + slices.Index(at.at, e.leastAt)}
}

// peaks notes the peaks of some ratios of powers, of which the first belongs to a place.
func (c *chooser) peaks(m *marginal, ratios []float64, first int, gain float64) {
	high := biquad.FromDB(2 * watched * c.terms.LimitDB)
	for i, r := range ratios {
		r *= gain
		if r <= high && r*high >= 1 {
			continue
		}
		beside := func(k int) float64 {
			if k < 0 || k >= len(ratios) {
				return 1
			}
			return ratios[k] * gain
		}
		a, b := beside(i-1), beside(i+1)
		if r > 1 && r >= a && r > b || r < 1 && r <= a && r < b {
			m.near = append(m.near, deviant{first + i, decibels(r)})
		}
	}
}

// survey is a choice of classes with the boards near the limit.
type survey struct {
	*chooser
	chosen []int
	boards []marginal
}

// does is what a part does at a place of a board, its trimmers included (dB for a
// deviation of 1).
func (s *survey) does(m *marginal, part, at int) float64 {
	e := s.pulls[part]
	out := e[at]
	if m.trims == nil {
		return out
	}
	level := func(way int) float64 {
		t := m.trims[way]
		if t[0] < 0 {
			return 0
		}
		return (e[t[0]] + e[t[1]]) / 2
	}
	if row := s.spots[at].row; row < len(s.ways) {
		return out - level(row)
	}
	for k, share := range s.shares[at] {
		out -= share * level(k)
	}
	return out
}

// inside counts the boards within the limit.
func (s *survey) inside() int { return s.with(-1, 0) }

// with counts them with a part in another class.
func (s *survey) with(part, class int) int {
	n, change := Boards, s.change(part, class)
	for i := range s.boards {
		if s.worst(&s.boards[i], part, change) > s.terms.LimitDB {
			n--
		}
	}
	return n
}

// worst is the greatest deviation (dB) of a board near the limit, with another tolerance
// of a part.
func (s *survey) worst(m *marginal, part int, change float64) float64 {
	most := 0.0
	for _, d := range m.near {
		db := d.db
		if change != 0 {
			db += change * m.drawn[part] * s.does(m, part, d.place)
		}
		most = math.Max(most, math.Abs(db))
	}
	return most
}

// change is by how much the tolerance of a part in another class is another.
func (s *survey) change(part, class int) float64 {
	if part < 0 {
		return 0
	}
	return s.classes[part][class].Tolerance - s.classes[part][s.chosen[part]].Tolerance
}

// move puts a part into another class.
func (s *survey) move(part, class int) {
	change := s.change(part, class)
	for i := range s.boards {
		m := &s.boards[i]
		for k := range m.near {
			m.near[k].db += change * m.drawn[part] * s.does(m, part, m.near[k].place)
		}
	}
	s.chosen[part] = class
}

// amended is the choice with which enough boards are inside by the first order, some to
// spare: where too few are, with parts in closer classes, otherwise with parts in
// looser ones, also where another one goes closer instead.
func (s *survey) amended(need, spare int) []int {
	if s.inside() < need {
		for s.inside() < need {
			p, _ := s.best(1)
			if p < 0 {
				break
			}
			s.move(p, s.chosen[p]+1)
		}
		return s.chosen
	}
	s.loosen(need+spare, -1)
	s.exchange(need + spare)
	return s.chosen
}

// best is the part that leaves most boards inside one class closer (step 1) or looser
// (-1), and how many; -1 for none.
func (s *survey) best(step int) (part, inside int) {
	all := s.ranked(step)
	if len(all) == 0 {
		return -1, 0
	}
	return all[0].part, all[0].inside
}

// option is a part that goes one class closer or looser, and the boards inside then.
type option struct{ part, inside int }

// ranked are all parts that can go one class closer (step 1) or looser (-1), the one that
// leaves most boards inside first.
func (s *survey) ranked(step int) []option {
	var all []option
	for p, k := range s.chosen {
		if k+step >= 0 && k+step < len(s.classes[p]) {
			all = append(all, option{p, 0})
		}
	}
	parallel.Each(len(all), func(i int) { all[i].inside = s.with(all[i].part, s.chosen[all[i].part]+step) })
	slices.SortStableFunc(all, func(a, b option) int { return b.inside - a.inside })
	return all
}

// loosen takes parts but one a class looser, by least effect, as long as enough boards
// are inside; how many steps.
func (s *survey) loosen(need, but int) (steps int) {
	for {
		moved := false
		for _, o := range s.ranked(-1) {
			if o.part != but && s.with(o.part, s.chosen[o.part]-1) >= need {
				s.move(o.part, s.chosen[o.part]-1)
				steps, moved = steps+1, true
			}
		}
		if !moved {
			return steps
		}
	}
}

// mostExchanges is how many parts are tried a class closer for others that go looser.
const mostExchanges = 8

// exchange takes a part closer where two others, or more, can go looser for it.
func (s *survey) exchange(need int) {
	for {
		found := false
		all := s.ranked(1)
		for _, o := range all[:min(mostExchanges, len(all))] {
			t := s.clone()
			t.move(o.part, t.chosen[o.part]+1)
			if t.loosen(need, o.part) > 1 {
				*s, found = *t, true
				break
			}
		}
		if !found {
			return
		}
	}
}

func (s *survey) clone() *survey {
	t := *s
	t.chosen = slices.Clone(s.chosen)
	t.boards = slices.Clone(s.boards)
	for i := range t.boards {
		t.boards[i].near = slices.Clone(s.boards[i].near)
	}
	return &t
}

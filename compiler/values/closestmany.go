package values

import (
	"math"
	"slices"

	"bandwright/compiler/assign"
	"bandwright/compiler/parallel"
	"bandwright/compiler/stage"
)

const (
	// usefulOnes, usefulTwos and usefulMore are how many ways to change one part, two
	// parts, and each greater number, a stage brings to the search, of those nearest to
	// its own section and of those that make up most for the others.
	usefulOnes, usefulTwos, usefulMore = 60, 200, 80
	// where no more than fewStages may change, each brings widely times as many.
	fewStages, widely = 5, 3
	// changeDB (dB) is what a change costs in the search: little against an error above a
	// limit, and much against one below.
	changeDB = 2e-5
	// mostOfStage is how many parts of a stage change at most.
	mostOfStage = 5
)

// way is a way to change parts of a stage, with the errors that it leaves.
type way struct {
	changes []stage.Change
	errors  assign.Errors
}

// variant is a way to change parts of a stage, and how far its response is from a target.
type variant struct {
	changes  []stage.Change
	distance float64
}

// nearest are the ways with the smallest distance, at most so many, the first of equal
// ones first.
type nearest struct {
	most int
	list []variant
}

// limit is the distance above which a way is of no use.
func (l *nearest) limit() float64 {
	if len(l.list) < l.most {
		return math.MaxFloat32
	}
	return l.list[len(l.list)-1].distance
}

func (l *nearest) add(x variant) {
	x.distance = math.Round(x.distance*1e12) / 1e12
	at, _ := slices.BinarySearchFunc(l.list, x.distance, func(y variant, d float64) int {
		if y.distance <= d {
			return -1
		}
		return 1
	})
	if at >= l.most {
		return
	}
	slices.SortFunc(x.changes, func(a, b stage.Change) int { return a.Part - b.Part })
	if slices.ContainsFunc(l.list, func(y variant) bool { return slices.Equal(x.changes, y.changes) }) {
		return
	}
	l.list = slices.Insert(l.list, at, x)
	l.list = l.list[:min(len(l.list), l.most)]
}

// useful lists ways to change the parts of a stage that come near its own section or make
// up for the errors of the others, those with the fewest changes first.
func (c *closest) useful(i int) []way {
	room, _ := c.stands.RoomOf(i)
	v := c.varied[i]
	s := v.Sweep((*stage.Room)(&room))
	own, rest := make([]complex128, len(c.At.Hz)), make([]complex128, len(c.At.Hz))
	for k := range own {
		own[k], rest[k] = 1, centre(room.LowDB[k], room.HighDB[k], room.LowRad[k], room.HighRad[k])
	}
	var out []way
	var from []variant
	gone := c.gone(i)
	for n := 1; n <= min(max(mostOfStage, len(gone)), len(v.Fitted())); n++ {
		found := [2]nearest{{most: c.most(n)}, {most: c.most(n)}}
		grownBy(&found, s, v, [2][]complex128{own, rest}, growth{from, n, gone})
		from = found[0].list
		for _, x := range found[1].list {
			if !slices.ContainsFunc(from, func(y variant) bool { return slices.Equal(x.changes, y.changes) }) {
				from = append(from, x)
			}
		}
		for _, x := range from {
			if !c.stays(i, parts(x.changes)...) {
				out = append(out, way{changes: x.changes})
			}
		}
	}
	return c.told(i, out)
}

// told enters the errors of ways to change a stage.
func (c *closest) told(i int, ways []way) []way {
	s := c.varied[i].Sweep(c.everything())
	for n := range ways {
		ways[n].errors.DB, ways[n].errors.Rad = s.Errors(ways[n].changes)
	}
	return ways
}

// most is how many ways to change n parts a stage brings.
func (c *closest) most(n int) int {
	most := usefulMore
	switch n {
	case 1:
		most = usefulOnes
	case 2:
		most = usefulTwos
	}
	if len(c.free) <= fewStages {
		most *= widely
	}
	return most
}

// gone are the parts of a stage that may not keep their values.
func (c *closest) gone(i int) (out []int) {
	for part, gone := range c.held[i].Gone {
		if gone {
			out = append(out, part)
		}
	}
	return out
}

// growth is what ways with n changes come from: ways with one less, first those of the
// parts that may not keep their values.
type growth struct {
	from []variant
	n    int
	gone []int
}

// grownBy finds the ways with n changes nearest to each of two targets: all of one and two;
// of three those of which two are of near values; and of more those that come from a list
// of one less. Parts that may not keep their values change before all others.
func grownBy(found *[2]nearest, s *stage.Sweep, v *stage.Variation, targets [2][]complex128, g growth) {
	from, candidates := g.from, v.Fitted()
	switch {
	case g.n <= len(g.gone):
		candidates = g.gone[g.n-1 : g.n]
		if g.n == 1 {
			from = []variant{{}}
		}
	case g.gone != nil:
	case g.n == 1:
		from = []variant{{}}
	case g.n == 2:
		from = singles(v, math.MaxInt)
	case g.n == 3:
		from = append(from, pairs(v, mostPairs)...)
	}
	for _, x := range from {
		for _, part := range candidates {
			if slices.Contains(parts(x.changes), part) || g.gone == nil && g.n == 2 && part < x.changes[0].Part {
				continue
			}
			s.On(x.changes, part)
			for t := range found {
				s.Near(targets[t], found[t].limit(), func(value, distance float64) {
					found[t].add(variant{append(slices.Clone(x.changes), stage.Change{Part: part, Value: value}), distance})
				})
			}
		}
	}
}

// singles are all changes of one part by at most so many values in stock.
func singles(v *stage.Variation, reach int) (out []variant) {
	for _, part := range v.Fitted() {
		list := v.Others(part)
		at, _ := slices.BinarySearch(list, v.Values[part])
		for k := max(0, at-min(reach, at)); k < len(list) && k-at < reach; k++ {
			out = append(out, variant{changes: []stage.Change{{Part: part, Value: list[k]}}})
		}
	}
	return out
}

// mostPairs bounds the pairs of near values that a third is looked for in each stage of a
// search, and mostTriples those of all stages where three in one stage are to do.
const mostPairs, mostTriples, farthest = 6000, 40000, 30

// pairs are all changes of two parts by so few values in stock that they are at most so many.
func pairs(v *stage.Variation, most int) (out []variant) {
	n := len(v.Fitted())
	reach := farthest
	for reach > 1 && n*(n-1)/2*(2*reach)*(2*reach) > most {
		reach--
	}
	all := singles(v, reach)
	for i, x := range all {
		for _, y := range all[i+1:] {
			if x.changes[0].Part != y.changes[0].Part {
				out = append(out, variant{changes: []stage.Change{x.changes[0], y.changes[0]}})
			}
		}
	}
	return out
}

// centre is the middle of what may be.
func centre(lowDB, highDB, lowRad, highRad float64) complex128 {
	middle := func(low, high float64) float64 {
		if math.IsInf(low, 0) || math.IsInf(high, 0) {
			return 0
		}
		return (low + high) / 2
	}
	g := math.Exp2(middle(lowDB, highDB) / (20 * math.Log10(2)))
	sin, cos := math.Sincos(middle(lowRad, highRad))
	return complex(g*cos, g*sin)
}

// parts are those that changes are of.
func parts(changes []stage.Change) []int {
	out := make([]int, len(changes))
	for n, x := range changes {
		out[n] = x.Part
	}
	return out
}

// more looks for more changes than all there are were tried of.
func (c *closest) more() (Closest, error) {
	ways := make([][]way, len(c.held))
	if err := parallel.Try(len(c.free), func(n int) error {
		if c.useless() {
			return errUseless
		}
		ways[c.free[n]] = c.useful(c.free[n])
		return nil
	}); err != nil {
		return Closest{}, err
	}
	found, err := c.among(ways)
	if err == nil && (!found.within || c.remains(found) || found.count() > manyParts) {
		// Sets of values far from those that stand may do, or do with less.
		var other arranged
		if ways, err = c.withExact(ways); err == nil {
			other, err = c.among(ways)
		}
		if !found.within || c.remains(found) || other.within && !c.remains(other) && other.count() < found.count() {
			found = other
		}
	}
	if err != nil {
		return Closest{}, err
	}
	if found, err = c.quieter(ways, found); err != nil {
		return Closest{}, err
	}
	return c.plan(found.stages, found.within && !c.remains(found))
}

// remains reports whether a part that may not keep its value does.
func (c *closest) remains(a arranged) bool {
	for _, i := range c.free {
		var changed []int
		for _, x := range a.stages {
			if x.stage == i {
				changed = parts(x.changes)
			}
		}
		if c.stays(i, changed...) {
			return true
		}
	}
	return false
}

// arranged are changes of stages, and whether they are within the limits.
type arranged struct {
	stages []changedStage
	within bool
}

func (a *arranged) count() int {
	n := 0
	for _, x := range a.stages {
		n += len(x.changes)
	}
	return n
}

// tabled are the errors of what stands and of some ways to change each stage, as tables of
// choices, the first of which stands.
func (c *closest) tabled(ways [][]way) assign.Problem {
	q := c.tables
	q.Tables, q.PointDB = make([]assign.Table, len(c.held)), changeDB
	parallel.Each(len(q.Tables), func(i int) {
		was, t := c.tables.Tables[i], &q.Tables[i]
		*t = assign.Table{Choices: was.Choices[:1:1], Points: []float64{0}, Changes: []int{0}, Gone: was.Gone}
		for _, x := range ways[i] {
			t.Choices, t.Points, t.Changes = append(t.Choices, x.errors), append(t.Points, float64(len(x.changes))), append(t.Changes, len(x.changes))
		}
	})
	return q
}

// picked are the ways that a pick of tabled ones takes.
func (c *closest) picked(ways [][]way, pick []int, within bool) arranged {
	out := arranged{within: within}
	for i, k := range pick {
		if k > 0 {
			out.stages = append(out.stages, changedStage{i, ways[i][k-1].changes})
		}
	}
	return out
}

// among looks for the fewest changes among some ways of each stage. Then every part that
// can do so keeps its value.
func (c *closest) among(ways [][]way) (arranged, error) {
	h, err := assign.Hold(c.tabled(ways), make([]int, len(c.held)), c.limits)
	if err != nil {
		return arranged{}, err
	}
	pick, within := h.Search(ProvenParts + 1)
	if c.useless() {
		return arranged{}, errUseless
	}
	return c.reduced(c.picked(ways, pick, within))
}

// reduced takes back whatever changes of each stage do not help.
func (c *closest) reduced(from arranged) (arranged, error) {
	ways, pick := make([][]way, len(c.held)), make([]int, len(c.held))
	for _, x := range from.stages {
		for some := 1; some < 1<<len(x.changes); some++ {
			var part []stage.Change
			for n, change := range x.changes {
				if some>>n&1 == 1 {
					part = append(part, change)
				}
			}
			if !c.stays(x.stage, parts(part)...) {
				ways[x.stage] = append(ways[x.stage], way{changes: part})
			}
		}
		c.told(x.stage, ways[x.stage])
		pick[x.stage] = len(ways[x.stage]) // all of them
	}
	h, err := assign.Hold(c.tabled(ways), pick, c.limits)
	if err != nil {
		return from, err
	}
	pick, within := h.Reduced()
	if from.within && !within {
		return from, nil // rounding
	}
	return c.picked(ways, pick, within), nil
}

const (
	// manyParts is how many changed parts are worth another search.
	manyParts = 5
	// exactSets is how many of the most exact sets of values a stage brings where those
	// near what stands do not do.
	exactSets = 60
	// quieted is how often noisy ways of stages are left out and the rest tried again.
	quieted = 3
)

// withExact adds the most exact sets of values of each stage.
func (c *closest) withExact(ways [][]way) ([][]way, error) {
	out := slices.Clone(ways)
	err := parallel.Try(len(c.free), func(n int) error {
		i := c.free[n]
		if c.useless() {
			return errUseless
		}
		held := c.varied[i]
		var more []way
		for _, x := range c.At.Bench.MostExact(held.Topology, held.Section, exactSets) {
			var changes []stage.Change
			same := true // parts are fitted
			for part, v := range x.Values {
				same = same && (v == 0) == (held.Values[part] == 0)
				if v != held.Values[part] {
					changes = append(changes, stage.Change{Part: part, Value: v})
				}
			}
			if same && len(changes) > 0 && !c.stays(i, parts(changes)...) {
				more = append(more, way{changes: changes})
			}
		}
		out[i] = append(slices.Clip(out[i]), c.told(i, more)...)
		return nil
	})
	return out, err
}

// quieter looks for as few changes without ways that make stages much noisier, as long as
// there are some.
func (c *closest) quieter(ways [][]way, found arranged) (arranged, error) {
	best := found
	ways = slices.Clone(ways)
	for range quieted {
		loud := false
		for _, x := range found.stages {
			quiet, err := c.quiet(x)
			if err != nil {
				return best, err
			}
			if quiet {
				continue
			}
			loud = true
			if ways[x.stage], err = c.quietOf(x.stage, ways[x.stage]); err != nil {
				return best, err
			}
		}
		if !loud {
			return found, nil
		}
		var err error
		if found, err = c.among(ways); err != nil {
			return best, err
		}
		if found.within != best.within || found.count() > best.count() {
			return best, nil
		}
	}
	return best, nil
}

// everything is a room that confines nothing.
func (c *closest) everything() *stage.Room {
	n := len(c.At.Hz)
	low, high := slices.Repeat([]float64{math.Inf(-1)}, n), slices.Repeat([]float64{math.Inf(1)}, n)
	return &stage.Room{LowDB: low, HighDB: high, LowRad: low, HighRad: high}
}

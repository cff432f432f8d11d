package stage

import (
	"math"
	"slices"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// Stages that have no exact search are designed for every combination of the
// choices that the section leaves open, with capacitors in stock, and rounded;
// from the most promising of these a descent goes over the lattice of values
// around the continuous solution, one and two parts at a time.

const (
	// steps is how far from the continuous solution a part may go, in values in
	// stock, and stepsOfMany where more than fewMoves parts move: so many find each
	// other's neighbours.
	steps, stepsOfMany, fewMoves = 2, 1, 8
	// starts is from how many designs a descent begins where one choice is wanted,
	// and mostStarts where many are.
	starts, mostStarts = 20, 60
	// polished is how many of the best sets of values are polished.
	polished = 4
	// maxDesigns bounds the combinations of free choices.
	maxDesigns = 40000
	// maxRounds bounds a descent.
	maxRounds = 30
	// outside is by what ratio the ideal value of a part may lie beyond the ends
	// of the stock.
	outside = 1.1
	// promising (dB a squared octave) is how much error of a rounded design weighs as much
	// as an uncomfortable impedance, and promisingDB (dB) as much as a point of strain.
	promising, promisingDB = 0.005, 0.03
)

// lattice searches one topology.
type lattice struct {
	t        *circuit.Topology
	asked    circuit.Asked
	stock    *Stock
	means    circuit.Means
	wanted   *wanted
	pool     *pool
	elements []circuit.Element
	lists    [][]float64
	moves    []int // parts that the descent moves: resistors, and capacitors that follow from others
	levels   []int // free choices that only set an impedance level
}

// design is one combination of free choices.
type design struct {
	free, ideal, values []float64
	cost                float64
}

// atLevel are the designs of some free choices with every resistor in stock for one of them, which
// sets an impedance level; without values where the stock does not reach the design.
type atLevel struct {
	free []float64 // what they were made for; the level itself does not count
	list []design
}

func newLattice(t *circuit.Topology, asked circuit.Asked, b *Bench, a *wanted, p *pool) *lattice {
	l := &lattice{t: t, asked: asked, stock: &b.Stock, means: b.Means, wanted: a, pool: p, elements: t.Parts()}
	free := map[string]bool{}
	for i, f := range t.Free {
		switch f.Unit {
		case "F":
			free[f.Name] = true
		case "ohm":
			l.levels = append(l.levels, i)
		default:
			if l.untied(f) >= 0 {
				free[f.Name] = true
			}
		}
	}
	for i, e := range l.elements {
		l.lists = append(l.lists, l.stock.Of(e))
		if e.Kind == netlist.Resistor || !free[e.Ref] {
			l.moves = append(l.moves, i)
		}
	}
	return l
}

// untied is the capacitor that a plain free choice is named after: 0 there means
// a design with that capacitor as it comes out, which the stock will not have.
func (l *lattice) untied(f circuit.Free) int {
	return slices.IndexFunc(l.elements, func(e circuit.Element) bool {
		return f.Unit == "" && e.Kind == netlist.Capacitor && e.Ref == f.Name
	})
}

// search fills the pool.
func (l *lattice) search() {
	most := starts
	if l.pool.most > 4*starts {
		most = mostStarts
	}
	begin := l.begin(most)
	for i := range begin {
		l.descend(&begin[i])
	}
	// The best of all go on with three parts at a time.
	for _, e := range slices.Clone(l.pool.list[:min(polished, len(l.pool.list))]) {
		l.polish(e)
	}
	if l.pool.ofValues() {
		l.spread()
	}
}

// polish descends from an entry of the pool by changes of three parts.
func (l *lattice) polish(e entry) {
	v, best := e.values, e.db
	for range maxRounds {
		next, db := l.around(v, best, 3, 3)
		if next == nil {
			return
		}
		v, best = next, db
	}
}

// begin lists the most promising designs.
func (l *lattice) begin(most int) []design {
	lists := make([][]float64, len(l.t.Free))
	total := 1
	for i, f := range l.t.Free {
		lists[i] = f.Try(l.asked, l.means)
		switch {
		case f.Unit == "F":
			lists[i] = l.stock.Farad
		case l.untied(f) >= 0:
			lists[i] = append(slices.Clone(lists[i]), l.stock.Farad...)
		}
		total *= max(len(lists[i]), 1)
	}
	// Where there are too many capacitors, every k-th is as good.
	for total > maxDesigns {
		total = 1
		for i, f := range l.t.Free {
			if len(lists[i]) > 3 && (f.Unit == "F" || l.untied(f) >= 0) {
				lists[i] = everyOther(lists[i])
			}
			total *= max(len(lists[i]), 1)
		}
	}
	var out []design
	free := make([]float64, len(lists))
	for n := range total {
		k := n
		for i := len(lists) - 1; i >= 0; i-- {
			free[i] = lists[i][k%len(lists[i])]
			k /= len(lists[i])
		}
		d, ok := l.designed(free)
		if !ok {
			continue
		}
		spare := promising * comfort(l.elements, d.values)
		if l.pool.perPoint > 0 {
			spare = promisingDB * l.pool.strain(d.values)
		}
		limit := noLimit
		if len(out) == most {
			limit = out[most-1].cost
			if spare >= limit {
				continue
			}
		}
		db := l.try(d.values, limit)
		d.cost = rounded(db + spare)
		if math.IsInf(d.cost, 1) || d.cost >= limit {
			continue
		}
		at, _ := slices.BinarySearchFunc(out, d.cost, func(x design, c float64) int {
			if x.cost <= c { // equal costs: the earlier first
				return -1
			}
			return 1
		})
		d.free = slices.Clone(free)
		out = slices.Insert(out, at, d)
		if len(out) > most {
			out = out[:most]
		}
	}
	return out
}

func everyOther(list []float64) []float64 {
	var out []float64
	for i := 0; i < len(list); i += 2 {
		out = append(out, list[i])
	}
	return out
}

// designed is the design of free choices, rounded, and whether the stock reaches
// it.
func (l *lattice) designed(free []float64) (design, bool) {
	ideal, err := l.t.Design(l.asked, free)
	if err != nil {
		return design{}, false
	}
	d := design{ideal: ideal, values: make([]float64, len(ideal))}
	for i, v := range ideal {
		list := l.lists[i]
		if v == 0 && l.elements[i].Optional {
			continue
		}
		if !(v > 0) || math.IsInf(v, 1) {
			return d, false
		}
		lowest, highest := list[0]/outside, list[len(list)-1]*outside
		if v > highest && l.elements[i].Optional && l.elements[i].Kind == netlist.Resistor {
			ideal[i] = 0 // next to an open end
			continue
		}
		if v < lowest || v > highest {
			return d, false
		}
		d.values[i] = list[nearest(list, v)]
	}
	return d, true
}

// try is the error of values, which the pool gets to see; infinite above the
// greater of limit and what the pool still takes.
func (l *lattice) try(v []float64, limit float64) float64 {
	r := l.t.Closed(v)
	if l.wanted.misses(&r, math.Max(limit, l.pool.limit())) {
		return math.Inf(1)
	}
	db := l.wanted.error(r, math.Max(limit, l.pool.limitOf(v)))
	l.pool.add(db, v)
	return db
}

// descend goes from a design to the lowest error near by.
func (l *lattice) descend(d *design) {
	v := slices.Clone(d.values)
	best := rounded(l.try(v, noLimit))
	known := make([]atLevel, len(l.levels))
	for range maxRounds {
		next, db := l.around(v, best, 1, 2)
		if lv, ldb, ok := l.releveled(v, d, known, math.Min(best, db)); ok {
			next, db = lv, ldb
		}
		if next == nil || db >= best {
			return
		}
		v, best = next, db
	}
}

// around is the best change of least to most parts by up to steps, nil for none that
// is better than best.
func (l *lattice) around(v []float64, best float64, least, most int) ([]float64, float64) {
	var next []float64
	w := slices.Clone(v)
	var change func(from, parts int)
	change = func(from, parts int) {
		l.eachStep(v, from, w, func(k int) {
			if parts >= least {
				if db := rounded(l.try(w, best)); db < best {
					best, next = db, slices.Clone(w)
				}
			}
			if parts < most {
				change(k+1, parts+1)
			}
		})
	}
	change(0, 1)
	return next, best
}

// eachStep puts every other value within the reach of the present one in the place of
// each part from the k-th movable one on, one after another.
func (l *lattice) eachStep(v []float64, k int, w []float64, f func(k int)) {
	reach := steps
	if len(l.moves) > fewMoves {
		reach = stepsOfMany
	}
	for ; k < len(l.moves); k++ {
		i := l.moves[k]
		if v[i] == 0 {
			continue
		}
		list := l.lists[i]
		at := nearest(list, v[i])
		for j := max(0, at-reach); j <= min(len(list)-1, at+reach); j++ {
			if j == at {
				continue
			}
			w[i] = list[j]
			f(k)
		}
		w[i] = v[i]
	}
}

// of is the designs with other free choices for the i-th one. From one round of a descent to the next they
// are mostly the same.
func (a *atLevel) of(l *lattice, free []float64, i int) []design {
	if a.list != nil {
		a.free[i] = free[i]
		if slices.Equal(a.free, free) {
			return a.list
		}
	}
	a.free, a.list = slices.Clone(free), make([]design, len(l.stock.Ohm))
	for k, ohm := range l.stock.Ohm {
		a.free[i] = ohm
		if other, can := l.designed(a.free); can {
			a.list[k] = other
		}
	}
	return a.list
}

// releveled is the best change of an impedance level that is better than best:
// the parts that follow from it are rounded anew. known are the levels' designs so far.
func (l *lattice) releveled(v []float64, d *design, known []atLevel, best float64) (next []float64, db float64, ok bool) {
	w := make([]float64, len(v))
	for n, i := range l.levels {
		was := d.free[i]
		kept := was
		for k, other := range known[n].of(l, d.free, i) {
			if other.values == nil {
				continue
			}
			for k := range w {
				if w[k] = v[k]; other.ideal[k] != d.ideal[k] {
					w[k] = other.values[k]
				}
			}
			if e := rounded(l.try(w, best)); e < best {
				best, next, kept, ok = e, slices.Clone(w), l.stock.Ohm[k], true
			}
		}
		d.free[i] = kept
		if kept != was {
			if other, can := l.designed(d.free); can {
				d.ideal = other.ideal
			}
			v = next
		}
	}
	return next, best, ok
}

package stage

import (
	"math"
	"slices"
	"sort"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

// entry is a set of values and its error.
type entry struct {
	db      float64 // rounded to scoreStep
	comfort float64
	values  []float64
}

// perError is how many choices with one and the same error are kept: values
// that differ by a common factor, or that are swapped where the response does
// not care. More of them would only crowd out others, unless it is the values
// themselves that matter.
const perError, perErrorOfValues = 2, 24

// pool keeps the best so many sets of values of a stage, by error.
type pool struct {
	elements []circuit.Element
	most     int
	same     int     // how many with one and the same error
	list     []entry // ascending by error, then comfort, then values
}

// limit is the error above which a set of values is of no use.
func (p *pool) limit() float64 {
	if len(p.list) < p.most {
		return noLimit
	}
	return p.list[len(p.list)-1].db
}

// add keeps a copy of v where it is good enough.
func (p *pool) add(db float64, v []float64) {
	db = rounded(db)
	if db > p.limit() || math.IsInf(db, 1) {
		return
	}
	e := entry{db: db, comfort: comfort(p.elements, v), values: v}
	at := sort.Search(len(p.list), func(i int) bool { return !before(p.list[i], e) })
	if at < len(p.list) && slices.Equal(p.list[at].values, v) {
		return
	}
	from, to := at, at
	for from > 0 && p.list[from-1].db == db {
		from--
	}
	for to < len(p.list) && p.list[to].db == db {
		to++
	}
	if to-from >= p.same {
		if at == to {
			return
		}
		p.list = slices.Delete(p.list, to-1, to)
	}
	e.values = slices.Clone(v)
	p.list = slices.Insert(p.list, at, e)
	if len(p.list) > p.most {
		p.list = p.list[:p.most]
	}
}

// before orders entries without ties.
func before(a, b entry) bool {
	switch {
	case a.db != b.db:
		return a.db < b.db
	case a.comfort != b.comfort:
		return a.comfort < b.comfort
	}
	return slices.Compare(a.values, b.values) < 0
}

// The values that are neither noisy nor a load, and capacitors that are neither
// strays nor large.
const (
	usualOhm   = 8e3
	usualFarad = 15e-9
	// faradWeight: an octave of capacitance matters less than one of resistance.
	faradWeight = 0.25
)

// comfort is small for values near the usual ones: the sum of squared octaves.
func comfort(elements []circuit.Element, v []float64) float64 {
	sum := 0.0
	for i, e := range elements {
		if v[i] == 0 {
			continue
		}
		usual, weight := usualOhm, 1.0
		if e.Kind == netlist.Capacitor {
			usual, weight = usualFarad, faradWeight
		}
		l := math.Log2(v[i] / usual)
		sum += float64(weight * float64(l*l))
	}
	return rounded(sum)
}

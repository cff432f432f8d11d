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
	cost    float64 // its error and its strain, in dB, rounded to scoreStep
	db      float64 // rounded to scoreStep
	comfort float64
	values  []float64
}

// perError is how many choices with one and the same error are kept: values
// that differ by a common factor, or that are swapped where the response does
// not care. More of them would only crowd out others, unless it is the values
// themselves that matter.
const perError, perErrorOfValues = 2, 24

// pool keeps the best so many sets of values of a stage, by cost.
type pool struct {
	elements []circuit.Element
	most     int
	same     int     // how many with one and the same error
	perPoint float64 // dB of error that a point of strain is worth
	noisy    float64 // the share of the band that resistors' noise passes through
	// takes, where not nil, says which sets of values are any use.
	takes func(v []float64) bool
	list  []entry // ascending by cost, then comfort, then values
}

// ofValues reports whether values matter by themselves, and many sets of them are looked for.
func (p *pool) ofValues() bool { return p.perPoint == 0 && p.most > 4*starts }

// limit is the error above which a set of values is of no use: no set costs less than its
// error.
func (p *pool) limit() float64 {
	if len(p.list) < p.most {
		return noLimit
	}
	return p.list[len(p.list)-1].cost
}

// limitOf is an error above which v is of no use: less than limit by what its strain costs at least. What
// rounding may take away is given back.
func (p *pool) limitOf(v []float64) float64 {
	limit := p.limit()
	if p.perPoint > 0 && !math.IsInf(limit, 1) {
		limit -= p.perPoint*p.leastStrain(v) - 4*scoreStep
	}
	return limit
}

// add keeps a copy of v where it is good enough.
func (p *pool) add(db float64, v []float64) {
	db = rounded(db)
	if db > p.limit() || math.IsInf(db, 1) {
		return
	}
	e := entry{cost: db, db: db, values: v}
	if p.perPoint > 0 {
		e.cost = rounded(db + p.perPoint*p.strain(v))
		if e.cost > p.limit() {
			return
		}
	}
	e.comfort = comfort(p.elements, v)
	at := sort.Search(len(p.list), func(i int) bool { return !before(p.list[i], e) })
	if at < len(p.list) && slices.Equal(p.list[at].values, v) || p.takes != nil && !p.takes(v) {
		return
	}
	last, alike := p.alike(at, db)
	if alike >= p.same {
		if last < at {
			return
		}
		p.list = slices.Delete(p.list, last, last+1)
	}
	e.values = slices.Clone(v)
	p.list = slices.Insert(p.list, at, e)
	if len(p.list) > p.most {
		p.list = p.list[:p.most]
	}
}

// alike is the last entry with an error (dB), -1 for none, and how many there are; at is where one
// more belongs.
func (p *pool) alike(at int, db float64) (last, n int) {
	from, to := 0, len(p.list)
	if p.perPoint == 0 { // in the order of their errors
		for from = at; from > 0 && p.list[from-1].db == db; from-- {
		}
		for to = at; to < len(p.list) && p.list[to].db == db; to++ {
		}
	}
	last = -1
	for i, o := range p.list[from:to] {
		if o.db == db {
			last, n = from+i, n+1
		}
	}
	return last, n
}

// before orders entries without ties.
func before(a, b entry) bool {
	switch {
	case a.cost != b.cost:
		return a.cost < b.cost
	case a.comfort != b.comfort:
		return a.comfort < b.comfort
	}
	return slices.Compare(a.values, b.values) < 0
}

// strain is what can be seen of a set of values, before it is measured, that will speak
// against it, in points of the score: large capacitors, resistors that are noisy and
// carry bias currents, or that are a load.
func (p *pool) strain(v []float64) float64 {
	sum := pointsPerBulk * bulk(p.elements, v)
	for i, e := range p.elements {
		if e.Kind == netlist.Resistor && v[i] > 0 {
			l := math.Log2(v[i] / quietOhm)
			weight := pointsPerOctave
			if l > 0 {
				weight *= p.noisy
			}
			sum += float64(weight * float64(l*l))
		}
	}
	return sum
}

// leastStrain is no more than strain, and nearly that: so many sets of values are looked at that exact
// logarithms would be seen.
func (p *pool) leastStrain(v []float64) float64 {
	sum := 0.0
	for i, e := range p.elements {
		switch {
		case !(v[i] > 0):
		case e.Kind == netlist.Capacitor:
			sum += pointsPerBulk * octavesBelow(1+v[i]/largeFarad)
		case e.Kind == netlist.Resistor:
			if l := octavesBelow(v[i] / quietOhm); l > 0 {
				sum += pointsPerOctave * p.noisy * l * l
			} else if l += mostBelow; l < 0 {
				sum += pointsPerOctave * l * l
			}
		}
	}
	return sum
}

// mostBelow is how far octavesBelow may be below the logarithm: 1 - (1 + ln ln 2)/ln 2 = 0.08607 where 1 + m has a
// slope of one octave.
const mostBelow = 0.0861

// octavesBelow is the chord of log2 x between powers of two, for a normal number x > 0.
func octavesBelow(x float64) float64 {
	const mantissa = 1<<52 - 1
	bits := math.Float64bits(x)
	return float64(int(bits>>52)-1023) + (math.Float64frombits(bits&mantissa|1023<<52) - 1)
}

// noisy is the share of the band, in Hz, in which the noise of a section's resistors is not
// shorted by its capacitors: that of low-passes and high-passes ends at the corner.
func noisy(a circuit.Asked) float64 {
	switch a.Shape {
	case circuit.LowPass1, circuit.HighPass1, circuit.LowPass2, circuit.HighPass2, circuit.BandPass2:
		return math.Min(1, a.W/(2*math.Pi*noiseToHz))
	}
	return 1
}

const (
	// pointsPerOctave of a resistor away from quietOhm, squared.
	pointsPerOctave = 0.1
	// quietOhm is neither noisier than an op-amp of 9 nV/rtHz nor much of a load.
	quietOhm = 4.7e3
)

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

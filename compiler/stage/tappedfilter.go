package stage

import (
	"cmp"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
)

const (
	// tapStarts is with how many starts values in stock are looked for, and perTapped how many sets of values are
	// measured.
	tapStarts, perTapped = 5, 8
	// tapMoves is how many parts change together, tapSteps by how many values of the stock.
	tapMoves, tapSteps = 2, 2
)

// tappedFilter looks for the values of a stage of circuit.Taps.
type tappedFilter struct {
	b        *Bench
	of       *circuit.Taps
	s        *circuit.Switched
	sections []biquad.Analog
	asked    []*wanted   // of each state
	want     []*wanted   // of ideal op-amps, so that real ones do what is asked for
	lists    [][]float64 // of each part
	ra, rf   int         // the parts that are equal
	rb       int         // what the filter is added through, -1 for none
	string   int         // the string's first part
	pool     *pool
	rigs     []*rig // of the states, with the real op-amp
}

// newTappedFilter is nil for sections that are not several strengths of one filter.
func (b *Bench) newTappedFilter(of *circuit.Taps, sections []biquad.Analog, n, same int, perPoint float64) *tappedFilter {
	x := &tappedFilter{b: b, of: of, s: of.Stage(sections), sections: sections}
	if x.s == nil {
		return nil
	}
	x.ra, x.rf, x.string = of.Places(sections)
	x.rb = slices.IndexFunc(x.s.Parts(), func(e circuit.Element) bool { return e.Ref == "Rb" })
	for _, s := range sections {
		x.asked = append(x.asked, newWanted(s, -1, b.Band))
	}
	x.want = x.asked
	for _, e := range x.s.Parts() {
		x.lists = append(x.lists, b.Stock.Of(e))
	}
	x.pool = &pool{elements: x.s.Parts(), most: n, same: same, perPoint: perPoint, noisy: 1}
	return x
}

// Taps chooses the values of a stage of circuit.Taps for sections: those with the fewest points in all
// states together that are at most mostDB off in each. It is nil where the sections are not several strengths
// of one filter, or none comes as close.
func (b *Bench) Taps(of *circuit.Taps, sections []biquad.Analog, behind Behind, mostDB float64) (*Summed, error) {
	x := b.newTappedFilter(of, sections, perTapped, perError, strainDB)
	if x == nil {
		return nil, nil
	}
	for _, v := range x.starts(mostDB) {
		if err := x.lean(v); err != nil {
			return nil, err
		}
		x.fit(v, x.free())
		x.round(v)
	}
	var best *Summed
	least := math.Inf(1)
	for _, e := range x.pool.list {
		if e.db > mostDB {
			continue
		}
		y, err := b.TapsWith(of, sections, e.values, behind)
		if err != nil {
			return nil, err
		}
		points := 0.0
		for _, s := range y.States {
			points += s.Score
		}
		if y.WorstDB() <= mostDB && points < least {
			best, least = y, points
		}
	}
	return best, nil
}

// TapsWith is a stage of circuit.Taps with values, measured in each of its states.
func (b *Bench) TapsWith(of *circuit.Taps, sections []biquad.Analog, values []float64, behind Behind) (*Summed, error) {
	x := &Summed{Switched: of.Stage(sections), Values: values}
	return x, b.measureStates(x, append(slices.Clone(sections), biquad.Constant(1)), behind)
}

// error is the largest error (dB) of any state, more than limit as soon as that is clear.
func (x *tappedFilter) error(v []float64, limit float64) float64 {
	worst := 0.0
	for k, a := range x.want {
		if worst = math.Max(worst, a.error(x.s.States[k].Closed(v), limit)); worst > limit {
			break
		}
	}
	return worst
}

// starts are unrounded values with capacitors in stock, the most promising first: those of which a fit comes
// within mostDB.
func (x *tappedFilter) starts(mostDB float64) [][]float64 {
	type start struct {
		cost float64
		v    []float64
	}
	var all []start
	for _, v := range x.begun() {
		x.fit(v, x.free())
		if db := x.error(v, mostDB); db <= mostDB {
			all = append(all, start{rounded(db + strainDB*x.pool.strain(v)), v})
		}
	}
	slices.SortStableFunc(all, func(a, b start) int { return cmp.Compare(a.cost, b.cost) })
	var out [][]float64
	for _, s := range all[:min(tapStarts, len(all))] {
		out = append(out, s.v)
	}
	return out
}

// free are the parts that a fit moves, in the order in which they are rounded: from the one before the string on,
// the string last, which sets the strengths.
func (x *tappedFilter) free() []int {
	var out, string []int
	for i, e := range x.s.Parts() {
		switch {
		case e.Kind == netlist.Capacitor || i == x.ra || i == x.rf:
		case i >= x.string:
			string = append(string, i)
		default:
			out = append(out, i)
		}
	}
	last := len(out) - 1
	return slices.Concat(out[last:], out[:last], string)
}

// round gives values what is in stock, part by part with a new fit of those that are left, and the pool what is
// found near by.
func (x *tappedFilter) round(v []float64) {
	v = slices.Clone(v)
	for free := x.free(); len(free) > 0; {
		i := free[0]
		v[i] = x.lists[i][nearest(x.lists[i], v[i])]
		if free = free[1:]; len(free) > 0 {
			x.fit(v, free)
		}
	}
	v[x.rf] = v[x.ra]
	best := rounded(x.try(v, noLimit))
	for range maxRounds {
		next := x.around(v, &best)
		if next == nil {
			return
		}
		v = next
	}
}

// try is the error of values, which the pool gets to see; infinite above the greater of limit and what the pool
// still takes.
func (x *tappedFilter) try(v []float64, limit float64) float64 {
	db := x.error(v, math.Max(limit, x.pool.limitOf(v)))
	x.pool.add(db, v)
	return db
}

// around is the best change of up to tapMoves parts that is better than best, nil for none.
func (x *tappedFilter) around(v []float64, best *float64) []float64 {
	var next []float64
	parts := x.free()
	w := slices.Clone(v)
	var change func(from, moved int)
	change = func(from, moved int) {
		for k := from; k < len(parts); k++ {
			i := parts[k]
			list := x.lists[i]
			at := nearest(list, v[i])
			for j := max(0, at-tapSteps); j <= min(len(list)-1, at+tapSteps); j++ {
				if j == at {
					continue
				}
				w[i] = list[j]
				if db := rounded(x.try(w, *best)); db < *best {
					*best, next = db, slices.Clone(w)
				}
				if moved < tapMoves {
					change(k+1, moved+1)
				}
			}
			w[i] = v[i]
		}
	}
	change(0, 1)
	return next
}

// Retuned are the values of a stage of circuit.Taps with few changed that leave no state more than mostDB off: one
// or two, or three of the string's, else those of a new one; nil where the stock has none.
func (b *Bench) Retuned(of *circuit.Taps, sections []biquad.Analog, values []float64, behind Behind, mostDB float64) []float64 {
	x := b.newTappedFilter(of, sections, perTapped, perError, 0)
	if x == nil {
		return nil
	}
	if x.lean(values) != nil {
		return nil
	}
	for moved := 1; moved < len(nearBy); moved++ {
		x.changed(values, moved, mostDB)
		for _, e := range x.pool.list {
			if e.db > mostDB {
				break
			}
			if y, err := b.TapsWith(of, sections, e.values, behind); err == nil && y.WorstDB() <= mostDB {
				return e.values
			}
		}
	}
	if y, err := b.Taps(of, sections, behind, mostDB); err == nil && y != nil {
		return y.Values
	}
	return nil
}

// changed gives the pool values with so many parts changed, those that are not in stock among them, that are at
// most mostDB off; more than tapMoves of the string and the pole only.
func (x *tappedFilter) changed(values []float64, moved int, mostDB float64) {
	var order []int
	must := 0
	for i := range values {
		switch {
		case !slices.Contains(x.lists[i], values[i]):
			order = slices.Insert(order, must, i)
			must++
		case i > x.rf || i != x.ra && i != x.rf && moved <= tapMoves:
			order = append(order, i)
		}
	}
	w := slices.Clone(values)
	var change func(from, left int)
	change = func(from, left int) {
		for k := from; k < len(order) && (from >= must || k == from); k++ {
			i := order[k]
			for _, w[i] = range x.lists[i] {
				switch {
				case w[i] > values[i]*nearBy[moved] || w[i] < values[i]/nearBy[moved]:
				case left > 1:
					change(k+1, left-1)
				case k+1 >= must && w[x.ra] == w[x.rf]:
					if db := x.error(w, mostDB); db <= mostDB {
						x.pool.add(db, w)
					}
				}
			}
			w[i] = values[i]
		}
	}
	change(0, moved)
}

// TapsSets lists the n sets of values of a stage of circuit.Taps with the smallest errors that are found with
// capacitors near those of one of them.
func (b *Bench) TapsSets(of *circuit.Taps, sections []biquad.Analog, like []float64, n int) [][]float64 {
	x := b.newTappedFilter(of, sections, n, perErrorOfValues, 0)
	v := slices.Clone(like)
	for i, e := range x.s.Parts() {
		if e.Kind == netlist.Capacitor || i == x.ra || i == x.rf {
			v[i] = x.lists[i][nearest(x.lists[i], v[i])]
		}
	}
	if x.lean(v) != nil {
		return nil
	}
	x.fit(v, x.free())
	x.round(v)
	var out [][]float64
	for _, e := range x.pool.list {
		out = append(out, e.values)
	}
	return out
}

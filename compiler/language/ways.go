package language

import (
	"fmt"
	"slices"
)

func (b *builder) ways(v *Value) {
	seen := map[string]string{}
	for _, f := range v.fields() {
		w := Way{Name: f.Key, Pos: f.KeyPos}
		if f.Key == sumOfWays {
			b.fault(f.KeyPos, "a way cannot be called "+quoted(sumOfWays)+": in reports that is the sum of all ways", "choose another name")
		}
		if other, taken := seen[identifier(f.Key)]; taken {
			b.fault(f.KeyPos, fmt.Sprintf("the ways %s and %s are both %s in C", quoted(other), quoted(f.Key), quoted(identifier(f.Key))), "choose another name for one of them")
		}
		seen[identifier(f.Key)] = f.Key
		for i, v := range f.Value.Get("filters").items() {
			w.Filters = append(w.Filters, b.filter(v, fmt.Sprintf("ways.%s.filters[%d]", f.Key, i)))
		}
		if g := f.Value.Get("gain"); g != nil {
			w.GainDB = g.Number
		}
		w.Inverted = f.Value.word("polarity") == "inverted"
		if d := f.Value.Get("delay"); d != nil {
			w.DelayS, w.DelayPos = d.Quantity(), d.Pos
			if w.DelayS > 1 {
				b.fault(d.Pos, fmt.Sprintf("%s is out of range for `delay`", quoted(d.Text)), "it must be from 0 s to 1 s, or 0 m to 343 m")
			}
		}
		b.spec.Ways = append(b.spec.Ways, w)
	}
}

// crossovers resolves the names of ways. waysKnown is false where the ways
// block itself has a fault.
func (b *builder) crossovers(v *Value, waysKnown bool) {
	used := map[int]int{} // lower way → line
	for i, item := range v.items() {
		if item == nil {
			continue
		}
		x := Crossover{Pos: item.Pos}
		path := fmt.Sprintf("crossovers[%d]", i)
		if between := item.Get("between"); between != nil && waysKnown {
			lower, upper, ok := b.neighbours(between)
			if ok {
				if line, taken := used[lower]; taken {
					b.fault(between.Pos, fmt.Sprintf("a second crossover between %s and %s", quoted(b.spec.Ways[lower].Name), quoted(b.spec.Ways[upper].Name)),
						fmt.Sprintf("the first is on line %d: keep one of them", line))
				} else {
					used[lower] = between.Pos.Line
				}
			}
			x.Lower, x.Upper = lower, upper
		}
		if low, high := item.Get("low"), item.Get("high"); low != nil || high != nil {
			x.Low = side(path+".low", b.lang.LowPass, item, "low")
			x.High = side(path+".high", b.lang.HighPass, item, "high")
		} else {
			x.Same = true
			x.Low = Filter{Path: path, Kind: b.lang.LowPass, Pos: item.Pos}
			x.Low.arguments(item.without("between"))
			x.High = x.Low
			x.High.Kind = b.lang.HighPass
		}
		b.spec.Crossovers = append(b.spec.Crossovers, x)
	}
}

// Apart is a crossover with a filter for each side, also where the spec has one
// for both: the keys between, low and high.
func Apart(crossover *Value) *Value {
	if crossover.Get("low") != nil || crossover.Get("high") != nil {
		return crossover
	}
	out, both := *crossover, crossover.without("between")
	out.Fields = []Field{{"between", crossover.Pos, crossover.Get("between")}, {"low", crossover.Pos, both}, {"high", crossover.Pos, both}}
	return &out
}

// side is the filter under one key of a crossover.
func side(path, kind string, item *Value, key string) Filter {
	f := Filter{Path: path, Kind: kind}
	for _, field := range item.Fields {
		if field.Key != key {
			continue
		}
		if f.Pos = field.KeyPos; field.Value != nil {
			f.arguments(field.Value)
		}
	}
	return f
}

// neighbours finds the two ways of a crossover.
func (b *builder) neighbours(between *Value) (lower, upper int, ok bool) {
	var names []string
	for _, w := range b.spec.Ways {
		names = append(names, w.Name)
	}
	var at []int
	for _, v := range between.Items {
		if v == nil {
			return 0, 0, false
		}
		i := slices.Index(names, v.Word)
		if i < 0 {
			right := "the ways are " + list(ticked(names), "and")
			if s := nearest(v.Word, names); s != "" {
				if !isName(s, false) {
					continue // its own name is the fault
				}
				right = "did you mean " + quoted(s) + "?"
			} else if len(names) == 1 {
				right = "the only way is " + quoted(names[0])
			}
			b.fault(v.Pos, quoted(v.Word)+" is not a way", right)
			continue
		}
		at = append(at, i)
	}
	if len(at) != 2 {
		return 0, 0, false
	}
	lower, upper = at[0], at[1]
	switch {
	case lower == upper:
		b.fault(between.Items[1].Pos, fmt.Sprintf("a crossover between %s and itself", quoted(names[lower])), "name two neighbouring ways, the lower first")
	case upper == lower-1:
		b.fault(between.Pos, fmt.Sprintf("%s comes after %s in `ways`", quoted(names[lower]), quoted(names[upper])), fmt.Sprintf("name the lower way first: `between: [%s, %s]`", names[upper], names[lower]))
	case upper != lower+1:
		low, high := min(lower, upper), max(lower, upper)
		b.fault(between.Pos, fmt.Sprintf("%s and %s are not neighbours", quoted(names[lower]), quoted(names[upper])),
			fmt.Sprintf("%s is between them in `ways`: a crossover joins neighbours", list(ticked(names[low+1:high]), "and")))
	default:
		return lower, upper, true
	}
	return 0, 0, false
}

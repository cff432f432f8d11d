package language

import (
	"fmt"
)

func (b *builder) ways(v *Value, driversKnown bool) {
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
		w.Driver = b.wayDriver(f.Value.Get("driver"), driversKnown)
		w.Amplifier = b.amplifier(f.Value.Get("amplifier"))
		b.spec.Ways = append(b.spec.Ways, w)
	}
}

// crossovers resolves the names of ways. waysKnown is false where the ways
// block itself has a fault.
func (b *builder) crossovers(v *Value, waysKnown bool) {
	used := map[int]int{} // lower way → line
	var joined []joint
	if waysKnown {
		for _, item := range v.items() {
			if between := item.Get("between"); between != nil {
				joined = append(joined, b.joined(between))
			}
		}
		waysKnown = !b.otherOrder(joined)
	}
	for i, item := range v.items() {
		if item == nil {
			continue
		}
		x := Crossover{Pos: item.Pos}
		path := fmt.Sprintf("crossovers[%d]", i)
		if between := item.Get("between"); between != nil && waysKnown {
			lower, upper, ok := b.neighbours(joined[0])
			joined = joined[1:]
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

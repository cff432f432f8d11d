package design

import (
	"bandwright/compiler/acoustic"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// resolve computes what every filter is in theory. drivers are those of each way, nil for
// none.
func resolve(s *language.Spec, drivers []*acoustic.Mounted) (*resolved, []language.Fault) {
	r := resolver{spec: s}
	out := &resolved{spec: s, common: r.lines(s.Common)}
	for i, w := range s.Ways {
		r.way, r.driver = w.Name, drivers[i]
		out.ways = append(out.ways, r.lines(w.Filters))
	}
	r.way, r.driver = "", nil
	for _, x := range s.Crossovers {
		p := pair{Crossover: x, low: r.line(x.Low)}
		// One filter written for both sides has its faults said once.
		said := len(r.faults)
		p.high = r.line(x.High)
		if x.Same && said > 0 {
			r.faults = r.faults[:said]
		}
		out.crossovers = append(out.crossovers, p)
		out.ways[x.Lower] = append(out.ways[x.Lower], p.low)
		out.ways[x.Upper] = append(out.ways[x.Upper], p.high)
	}
	return out, r.faults
}

type resolver struct {
	spec   *language.Spec
	way    string            // that the lines are of, "" for those of all ways
	driver *acoustic.Mounted // its own, nil for none
	faults []language.Fault
}

func (r *resolver) lines(fs []language.Filter) []line {
	var out []line
	for _, f := range fs {
		out = append(out, r.line(f))
	}
	return out
}

func (r *resolver) line(f language.Filter) line {
	k, ok := prototype.ByName(f.Kind)
	if !ok {
		panic("design: the grammar let an unknown kind pass: " + f.Kind)
	}
	args := f.Args
	for i, a := range args.Fields {
		if a.Value.Word != prototype.OfDriver {
			continue
		}
		pair := r.ofDriver(a)
		if pair == nil {
			return line{Filter: f}
		}
		whole := *args
		whole.Fields = append([]language.Field{}, args.Fields...)
		whole.Fields[i].Value = pair
		args = &whole
	}
	ideal, problems := k.Ideal(args)
	for _, p := range problems {
		at := f.Pos
		if v := f.Args.Get(p.Key); v != nil && v.Given {
			at = v.Pos
		}
		r.faults = append(r.faults, r.spec.Fault(language.Error, at, p.Message, p.Right))
	}
	return line{Filter: f, ideal: ideal}
}

// ofDriver is the pole pair of the way's driver, which stands in the place of a word; nil
// where there is none, with a fault.
func (r *resolver) ofDriver(a language.Field) *language.Value {
	at := a.Value.Pos
	fault := func(message, right string) *language.Value {
		r.faults = append(r.faults, r.spec.Fault(language.Error, at, message, right))
		return nil
	}
	written := "write the pair that there is, such as `" + a.Key + ": {at: 55 Hz, q: 0.8}`"
	switch {
	case r.way == "":
		return fault("a filter of all ways has no driver", "put it into a way, or "+written)
	case r.driver == nil:
		return fault("the way `"+r.way+"` has no driver with parameters", "give it `driver: {model: …}`, or "+written)
	}
	hz, q, ok := r.driver.Resonance()
	if !ok {
		return fault("a driver in a box with a port has four poles, not one pair", written)
	}
	scalar := func(key string, number float64, dim language.Dim) language.Field {
		return language.Field{Key: key, KeyPos: at, Value: &language.Value{Pos: at, Given: true, Number: number, Dim: dim}}
	}
	return &language.Value{Pos: at, Given: true, Fields: []language.Field{scalar("at", hz, language.Frequency), scalar("q", q, "")}}
}

package design

import (
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// resolve computes what every filter is in theory.
func resolve(s *language.Spec) (*resolved, []language.Fault) {
	r := resolver{spec: s}
	out := &resolved{spec: s, common: r.lines(s.Common)}
	for _, w := range s.Ways {
		out.ways = append(out.ways, r.lines(w.Filters))
	}
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
	ideal, problems := k.Ideal(f.Args)
	for _, p := range problems {
		at := f.Pos
		if v := f.Args.Get(p.Key); v != nil && v.Given {
			at = v.Pos
		}
		r.faults = append(r.faults, r.spec.Fault(language.Error, at, p.Message, p.Right))
	}
	return line{Filter: f, ideal: ideal}
}

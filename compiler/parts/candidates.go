package parts

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
)

// Refusal says why a topology is no choice for a section.
type Refusal struct {
	Topology *circuit.Topology
	Reason   string
}

const (
	// spare is how many more sets of values are measured with the real op-amp than
	// are asked for: the quietest and the most exact are rarely the same.
	spare = 8
	// hopelessDB (dB) is the error with the real op-amp above which a stage is no
	// choice; circuit.Topology.Propose draws the line there too.
	hopelessDB = 1.0
)

// Candidates lists stages for a section, best score first: at most n of each of
// the topologies, or of every one in the table where topologies is nil, and why
// the others are none. Balanced topologies are never choices. Stages of the same
// topology and error appear at most twice.
//
// The unity-gain Sallen-Key and the multiple-feedback low-passes and high-passes
// are searched exactly: the n returned are among the n+8 with the smallest
// ErrorDB that exist in the stock, and the smallest is among those measured. Other
// topologies are searched on the lattice around their designs.
func (b *Bench) Candidates(section biquad.Analog, topologies []*circuit.Topology, n int) ([]Choice, []Refusal, error) {
	if err := b.check(); err != nil {
		return nil, nil, err
	}
	b = b.ready()
	if topologies == nil {
		topologies = circuit.Topologies
	}
	var out []Choice
	var no []Refusal
	for _, t := range topologies {
		found, reason := b.pool(t, section, n+spare, perError)
		if reason != "" {
			no = append(no, Refusal{t, reason})
			continue
		}
		if err := b.measure(found, func(i int, c Choice) { found[i] = c }); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", t.Name, err)
		}
		least := found[0].RealDB
		for _, c := range found {
			least = min(least, c.RealDB)
		}
		if least > hopelessDB {
			no = append(no, Refusal{t, fmt.Sprintf("the nearest values in stock leave an error of %.2g dB with this op-amp, more than %g dB", least, hopelessDB)})
			continue
		}
		sortByScore(found)
		out = append(out, found[:min(n, len(found))]...)
	}
	sortByScore(out)
	return out, no, nil
}

// sortByScore sorts choices, equal ones left in their order.
func sortByScore(all []Choice) {
	slices.SortStableFunc(all, func(x, y Choice) int {
		switch {
		case x.Score < y.Score:
			return -1
		case x.Score > y.Score:
			return 1
		}
		return 0
	})
}

// pool finds the n sets of values of a topology with the smallest error, at most
// same of one error, not measured, or says why there are none.
func (b *Bench) pool(t *circuit.Topology, section biquad.Analog, n, same int) ([]Choice, string) {
	if t.Balanced {
		return nil, "it takes a balanced signal"
	}
	p := t.Propose(section, b.Means)
	if p.Values == nil {
		return nil, p.Reason
	}
	if !p.Applies && p.GBWErrorDB > hopelessDB {
		return nil, p.Reason
	}
	a := newAim(section, p.Level, b.Band)
	empty := pool{elements: t.Parts(), most: n, same: same}
	found := &empty
	level := p.Level
	exactly := false
	if i := slices.IndexFunc(exacts, func(x exact) bool { return x.topology == t.Name }); i >= 0 {
		all := empty
		if exactly = exacts[i].search(t, &b.Stock, a, &all); exactly {
			found = &all
		}
	}
	if !exactly {
		newLattice(t, p.Asked, b, a, found).search()
	}
	if len(found.list) == 0 {
		if p.Applies {
			return nil, "no values in stock come near"
		}
		return nil, p.Reason
	}
	out := make([]Choice, len(found.list))
	for i, e := range found.list {
		out[i] = Choice{Topology: t, Section: section, Ideal: e.ideal, Values: e.values, Level: level, ErrorDB: e.db}
		if out[i].Ideal == nil {
			out[i].Ideal = idealFor(t, p, e.values)
		}
	}
	return out, ""
}

// idealFor is the design with the capacitors of values, the one of several
// solutions that is nearest to them; the proposal's where there is none.
func idealFor(t *circuit.Topology, p circuit.Proposal, values []float64) []float64 {
	elements := t.Parts()
	best, nearest := p.Values, math.Inf(1)
	free := slices.Clone(p.Free)
	var plain []int
	for i, f := range t.Free {
		if at := slices.IndexFunc(elements, func(e circuit.Element) bool { return e.Ref == f.Name }); f.Unit == "F" && at >= 0 {
			free[i] = values[at]
		} else {
			plain = append(plain, i)
		}
	}
	look := func() {
		v, err := t.Design(p.Asked, free)
		if err != nil {
			return
		}
		d := 0.0
		for i := range v {
			if v[i] > 0 && values[i] > 0 {
				l := math.Log2(v[i] / values[i])
				d += float64(l * l)
			}
		}
		if rounded(d) < nearest {
			best, nearest = v, rounded(d)
		}
	}
	look()
	for _, i := range plain {
		was := free[i]
		for _, free[i] = range t.Free[i].Try(p.Asked, circuit.Means{}) {
			look()
		}
		free[i] = was
	}
	return best
}

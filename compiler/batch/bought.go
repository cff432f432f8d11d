package batch

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// Bought is which class every part is bought in; nil where all come in one, and without
// a batch.
func (x *Batch) Bought() *Purchase {
	if x == nil {
		return nil
	}
	return x.Purchase
}

// Alike are parts of one kind that are bought with one tolerance.
type Alike struct {
	Kind      netlist.Kind
	Tolerance float64
	Refs      []string
}

// Alike are the parts that come in more than one class, by kind and tolerance, the closest
// first.
func (p *Purchase) Alike() []Alike { return p.alike(func(Bought) bool { return true }) }

// alike sorts some of the parts.
func (p *Purchase) alike(some func(Bought) bool) []Alike {
	if p == nil {
		return nil
	}
	var out []Alike
	for _, b := range p.Parts {
		if !some(b) {
			continue
		}
		i := slices.IndexFunc(out, func(a Alike) bool { return a.Kind == b.Kind && a.Tolerance == b.Class().Tolerance })
		if i < 0 {
			i = len(out)
			out = append(out, Alike{Kind: b.Kind, Tolerance: b.Class().Tolerance})
		}
		out[i].Refs = append(out[i].Refs, b.Ref)
	}
	slices.SortFunc(out, func(a, b Alike) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Tolerance, b.Tolerance))
	})
	return out
}

// Sentences say, of each kind of parts that come in classes, how many parts need which tolerance, of each the first few
// references: all of them where most is 0.
func (p *Purchase) Sentences(most int) []string {
	var out []string
	loose := p.alike(func(b Bought) bool { return b.Chosen == 0 })
	closer := p.alike(func(b Bought) bool { return b.Chosen > 0 })
	for _, kind := range []netlist.Kind{netlist.Resistor, netlist.Capacitor} {
		all := 0
		var parts, others []string
		for _, a := range loose {
			if a.Kind == kind {
				all += len(a.Refs)
				others = append(others, words.Share.Limit(a.Tolerance))
			}
		}
		for _, a := range closer {
			if a.Kind == kind {
				all += len(a.Refs)
				parts = append(parts, fmt.Sprintf("%d need %s (%s)", len(a.Refs), words.Share.Limit(a.Tolerance), few(a.Refs, most)))
			}
		}
		name := words.Count(all, kind.String(), kind.String()+"s")
		switch {
		case all == 0:
			continue
		case parts == nil:
			parts = []string{"none needs closer than " + words.List(others)}
		case others != nil:
			parts = append(parts, "the others "+words.List(others))
		}
		out = append(out, "of "+name+" "+strings.Join(parts, ", "))
	}
	return out
}

// few are the first references of a list, and how many more there are.
func few(refs []string, most int) string {
	if most > 0 && len(refs) > most+1 {
		refs = append(slices.Clone(refs[:most]), fmt.Sprintf("%d more", len(refs)-most))
	}
	return words.List(refs)
}

package result

import "bandwright/compiler/batch"

// Class are parts of one kind that are bought with one tolerance, of those that come in
// more than one.
type Class struct {
	Kind      string   `json:"kind"` // resistor or capacitor
	Tolerance float64  `json:"tolerance"`
	Refs      []string `json:"refs"`
}

// buy fills in the tolerances of the parts that come in classes.
func (b *Board) buy(p *batch.Purchase) {
	stages := func(list []Stage) {
		for _, s := range list {
			for i := range s.Parts {
				if x, chosen := p.Of(s.Parts[i].Ref); chosen {
					s.Parts[i].Tolerance = x.Class().Tolerance
				}
			}
		}
	}
	ends := func(list []EndPart) {
		for i := range list {
			if x, chosen := p.Of(list[i].Ref); chosen {
				list[i].Tolerance = x.Class().Tolerance
			}
		}
	}
	stages(b.Common.Stages)
	ends(b.Common.Ends)
	for _, w := range b.Ways {
		stages(w.Stages)
		ends(w.Ends)
	}
	for _, a := range p.Alike() {
		b.Classes = append(b.Classes, Class{a.Kind.String(), a.Tolerance, a.Refs})
	}
}

package board

import (
	"fmt"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/circuit"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// CheckHeld says what of a held board no board can be: stages with parts that their
// topologies do not have, or without one that they need.
func CheckHeld(h *language.Held) []language.Fault {
	var out []language.Fault
	chains := []*language.HeldChain{&h.Common}
	for i := range h.Ways {
		chains = append(chains, &h.Ways[i].HeldChain)
	}
	for _, c := range chains {
		for _, p := range c.Places {
			for n, a := range p.Alternatives {
				if p.Switched && n > 0 {
					break // the same stages
				}
				for i := range a {
					t, ok := circuit.ByName(a[i].Topology)
					if p.Switched && i == 0 && a[i].Topology == circuit.TappedGainName {
						s, fault := tappedOf(h, &p)
						if s == nil {
							out = append(out, fault)
							continue
						}
						t, ok = s.Topology, true
					}
					if p.Switched && i == 0 && ofSections[a[i].Topology].make != nil {
						s, fault := summedOf(h, &p)
						if s == nil {
							out = append(out, fault)
							continue
						}
						t, ok = s.Topology, true
					}
					if ok { // else it has no parts: the grammar knows the names
						out = append(out, checkStage(h, c.Block, &a[i], t)...)
					}
				}
			}
		}
	}
	return out
}

// tappedOf is the string of resistors that a held place's parts make for the gains of its
// states, or the fault that they make none.
func tappedOf(h *language.Held, p *language.HeldPlace) (*circuit.Switched, language.Fault) {
	var gains []float64
	for _, a := range p.Alternatives {
		s := ownSection(&a[0])
		gains = append(gains, s.B[0]/s.A[0])
	}
	different, _ := taps(gains)
	one := &p.Alternatives[0][0]
	if s := circuit.TappedOf(len(different), len(one.Parts)); s != nil {
		return s, language.Fault{}
	}
	n := len(different) + 1
	return nil, h.Fault(language.Error, one.Pos, fmt.Sprintf("stage %d (%s) has %s, which make no string for %s", one.Number, one.Topology,
		words.Count(len(one.Parts), "part", "parts"), words.Count(len(different), "gain", "gains")),
		fmt.Sprintf("it has %d to %d: the string's resistors, the one at the pole, and with an amplifier two more", n, n+3))
}

// ofSections are the switched stages whose parts follow from the sections of their states, and what those are.
var ofSections = map[string]struct {
	make  func(sections []biquad.Analog, flat bool) *circuit.Switched
	right string
}{
	circuit.SwitchedSumName: {func(s []biquad.Analog, _ bool) *circuit.Switched { return circuit.SwitchedSum(s) },
		"they are two or more different shelves, peaks, notches or all-passes of the second order, with a gain of 1 where their filter adds nothing, and perhaps nothing"},
	circuit.SwitchedPairName: {circuit.SwitchedPair,
		"they are a shelf or peak of the second order that boosts, one of the same kind that cuts, and perhaps nothing"},
	circuit.TappedFilterName: {func(s []biquad.Analog, _ bool) *circuit.Switched { return circuit.TappedFilter.Stage(s) },
		"they are two or more shelves or peaks of the second order, or low shelves of the first, of one kind and each of another strength, and perhaps nothing"},
	circuit.TappedShelfName: {func(s []biquad.Analog, _ bool) *circuit.Switched { return circuit.TappedShelf.Stage(s) },
		"they are two or more shelves of the first order, of one kind and each of another strength, and perhaps nothing"},
}

// summedOf is the stage of ofSections that the states of a held place make, or the fault that they make none.
func summedOf(h *language.Held, p *language.HeldPlace) (*circuit.Switched, language.Fault) {
	one := &p.Alternatives[0][0]
	of := ofSections[one.Topology]
	if sections, which, ok := heldSections(p); ok {
		if s := of.make(sections, slices.Contains(which, len(sections))); s != nil {
			return s, language.Fault{}
		}
	}
	return nil, h.Fault(language.Error, one.Pos, fmt.Sprintf("stage %d (%s) has states that no such stage has", one.Number, one.Topology), of.right)
}

// checkStage checks one stage of a topology.
func checkStage(h *language.Held, block int, s *language.HeldStage, t *circuit.Topology) []language.Fault {
	var out []language.Fault
	given := map[string]bool{}
	for _, p := range s.Parts {
		given[p.Ref] = true
	}
	number := map[netlist.Kind]int{}
	var missing, all []string
	for _, e := range t.Parts() {
		number[e.Kind]++
		ref := fmt.Sprintf("%s%d%02d%02d", letter(e.Kind), block, s.Number, number[e.Kind])
		all = append(all, ref)
		if !given[ref] && !e.Optional {
			missing = append(missing, ref)
		}
		delete(given, ref)
	}
	if missing != nil {
		out = append(out, h.Fault(language.Error, s.Pos, fmt.Sprintf("stage %d (%s) lacks %s", s.Number, t.Name, words.List(missing)),
			"write its values among `parts`: it has "+words.List(all)))
	}
	for _, p := range s.Parts {
		if given[p.Ref] {
			out = append(out, h.Fault(language.Error, p.Pos, fmt.Sprintf("stage %d (%s) has no %s", s.Number, t.Name, p.Ref), "it has "+words.List(all)))
		}
	}
	if n := t.OpAmps(); len(s.OpAmps) != n {
		out = append(out, h.Fault(language.Error, s.Pos, fmt.Sprintf("stage %d (%s) names %s, and has %d", s.Number, t.Name, words.Count(len(s.OpAmps), "op-amp", "op-amps"), n),
			"name as many in `op-amps`"))
	}
	return out
}

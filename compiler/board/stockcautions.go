package board

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// nonlinear are the words in the name of a dielectric whose capacitance follows the
// voltage across it: ceramics of class 2 and 3, and electrolytics.
var nonlinear = []string{"class 2", "class ii", "class 3", "high-k", "hi-k", "electrolytic", "tantalum", "niobium", "aluminium", "aluminum"}

// class2 is a code of EIA-198 for a ceramic of class 2 or 3, such as X7R or Z5U: the
// lowest temperature, the highest, and the change of capacitance between them. Those
// of class 1, such as C0G, begin with other letters.
var class2 = regexp.MustCompile(`^[XYZ][2-9][A-FLPR-V]$`)

// distorts reports whether a capacitor of a dielectric distorts in the signal path.
func distorts(dielectric string) bool {
	d := strings.ToLower(dielectric)
	codes := strings.FieldsFunc(strings.ToUpper(dielectric), func(r rune) bool { return !(r >= 'A' && r <= 'Z' || r >= '0' && r <= '9') })
	return slices.ContainsFunc(codes, class2.MatchString) || slices.ContainsFunc(nonlinear, func(w string) bool { return strings.Contains(d, w) })
}

// mostRefs is how many references one caution names.
const mostRefs = 12

// stockCautions are what a builder has to know of the parts that stock files list.
func (b *Board) stockCautions() []string {
	var out []string
	bins := b.Bins()
	for _, use := range []Use{Bias, Discharge, BuildOut, Coupling, Bleed} {
		bins = append(bins, b.EndBins(use)...)
	}
	for _, s := range []struct {
		of   *language.Stock
		kind netlist.Kind
		unit string
	}{{&b.Spec.Resistors, netlist.Resistor, "ohm"}, {&b.Spec.Capacitors, netlist.Capacitor, "F"}} {
		listed := slices.DeleteFunc(slices.Clone(bins), func(x Bin) bool { return x.Kind != s.kind || s.of.Part(x.Value) == nil })
		var kinds, ratings []string
		for _, x := range listed {
			p := s.of.Part(x.Value)
			if s.kind == netlist.Capacitor && distorts(p.Dielectric) {
				kinds = append(kinds, p.Dielectric)
			}
			if p.VoltageV > 0 && p.VoltageV < b.Spec.SupplyV {
				ratings = append(ratings, words.Part(p.VoltageV, "V"))
			}
		}
		for _, kind := range words.Once(kinds) {
			of := slices.DeleteFunc(slices.Clone(listed), func(x Bin) bool { return s.of.Part(x.Value).Dielectric != kind })
			out = append(out, fmt.Sprintf("%s in %s: %s. Its capacitance follows the voltage across it, so it distorts in the signal path; %s",
				kind, s.of.File.Name, refsOf(of), instead(s.of, of)))
		}
		for _, rating := range words.Once(ratings) {
			of := slices.DeleteFunc(slices.Clone(listed), func(x Bin) bool { return words.Part(s.of.Part(x.Value).VoltageV, "V") != rating })
			out = append(out, fmt.Sprintf("rated %s in %s, below the rails of ±%s: %s", rating, s.of.File.Name, words.Part(b.Spec.SupplyV, "V"), refsOf(of)))
		}
	}
	return out
}

// refsOf names the parts of some bins.
func refsOf(bins []Bin) string {
	var refs []string
	for _, x := range bins {
		refs = append(refs, x.Refs...)
	}
	if n := len(refs); n > mostRefs+1 {
		refs = append(refs[:mostRefs:mostRefs], fmt.Sprintf("%d more", n-mostRefs))
	}
	return words.List(refs)
}

// instead says what could be bought in place of capacitors that distort: others of the
// same values, which change no response.
func instead(s *language.Stock, bins []Bin) string {
	var drop, take []string
	for _, x := range bins {
		others := s.Listed(x.Value)
		i := slices.IndexFunc(others, func(p language.Part) bool { return p.Dielectric != "" && !distorts(p.Dielectric) })
		if i < 0 {
			return "list film or class 1 ceramic (C0G) parts of these values"
		}
		for _, p := range others[:i] {
			drop = append(drop, p.Name)
		}
		take = append(take, others[i].Name)
	}
	return fmt.Sprintf("without %s the file's %s would be used", words.List(drop), words.List(take))
}

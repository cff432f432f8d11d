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

// stockCautions are what a builder has to know of the parts that stock files list, and
// of those that they do not.
func (b *Board) stockCautions() []string {
	bins := b.Bins()
	for _, use := range []Use{Coupling, Bias, BuildOut, Discharge, Bleed} {
		bins = append(bins, b.EndBins(use)...)
	}
	kind := func(k netlist.Kind) []Bin {
		return slices.DeleteFunc(slices.Clone(bins), func(x Bin) bool { return x.Kind != k })
	}
	return slices.Concat(
		b.stockCautionsOn(&b.Spec.Resistors, kind(netlist.Resistor), "ohm"),
		b.stockCautionsOn(&b.Spec.Capacitors, kind(netlist.Capacitor), "F"))
}

// stockCautionsOn are those on one kind of part.
func (b *Board) stockCautionsOn(s *language.Stock, bins []Bin, unit string) []string {
	if s.Parts == nil {
		return nil
	}
	var out, missing, dielectrics, ratings []string
	of := map[string][]Bin{} // by dielectric or rating
	add := func(list *[]string, what string, x Bin) {
		if of[what] == nil {
			*list = append(*list, what)
		}
		of[what] = append(of[what], x)
	}
	for _, x := range bins {
		p := s.Part(x.Value)
		if p == nil {
			missing = append(missing, words.Stock(x.Value, unit)+" for "+refsOf([]Bin{x}))
			continue
		}
		if unit == "F" && distorts(p.Dielectric) {
			add(&dielectrics, p.Dielectric, x)
		}
		if p.VoltageV > 0 && p.VoltageV < b.Spec.SupplyV {
			add(&ratings, "rated "+words.Part(p.VoltageV, "V"), x)
		}
	}
	for _, d := range dielectrics {
		out = append(out, fmt.Sprintf("%s in %s: %s. Its capacitance follows the voltage across it, so it distorts in the signal path; %s",
			d, s.File.Name, refsOf(of[d]), instead(s, of[d])))
	}
	for _, r := range ratings {
		out = append(out, fmt.Sprintf("%s in %s, below the rails of ±%s: %s", r, s.File.Name, words.Part(b.Spec.SupplyV, "V"), refsOf(of[r])))
	}
	if missing != nil {
		out = append(out, fmt.Sprintf("%s does not list %s", s.File.Name, words.List(missing)))
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

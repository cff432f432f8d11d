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

// stockFaults are sentences on the parts that stock files list, and on those that they do
// not.
type stockFaults struct{ dielectrics, ratings, missing []string }

// ofStock are the places of one sort of them: each a sentence of its own.
func ofStock(pick func(stockFaults) []string) func(*survey) []place {
	return func(s *survey) []place {
		var out []place
		for _, text := range pick(s.stock) {
			out = append(out, place{about: text})
		}
		return out
	}
}

var (
	dielectric = caution{name: "dielectric", sentence: itself, found: ofStock(func(f stockFaults) []string { return f.dielectrics })}
	rating     = caution{name: "voltage rating", sentence: itself, found: ofStock(func(f stockFaults) []string { return f.ratings })}
	unlisted   = caution{name: "not in the stock file", sentence: itself, found: ofStock(func(f stockFaults) []string { return f.missing })}
)

// itself is the sentence that a place holds.
func itself(at []place) string { return at[0].about }

// stockFaults are those of all parts of the board.
func (b *Board) stockFaults() stockFaults {
	bins := b.Bins()
	for _, use := range []Use{SeriesResistance, RFFilter, Coupling, Bias, TrimShunt, BuildOut, Discharge, Gate, Bleed} {
		bins = append(bins, b.EndBins(use)...)
	}
	kind := func(k netlist.Kind) []Bin {
		return slices.DeleteFunc(slices.Clone(bins), func(x Bin) bool { return x.Kind != k })
	}
	var out stockFaults
	out.add(b, &b.Spec.Resistors, kind(netlist.Resistor), "ohm")
	out.add(b, &b.Spec.Capacitors, kind(netlist.Capacitor), "F")
	return out
}

// add adds those of one kind of part.
func (out *stockFaults) add(b *Board, s *language.Stock, bins []Bin, unit string) {
	if s.Parts == nil {
		return
	}
	var missing, dielectrics, ratings []string
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
		out.dielectrics = append(out.dielectrics, fmt.Sprintf("%s in %s: %s. Its capacitance follows the voltage across it, so it distorts in the signal path; %s",
			d, s.File.Name, refsOf(of[d]), instead(s, of[d])))
	}
	for _, r := range ratings {
		out.ratings = append(out.ratings, fmt.Sprintf("%s in %s, below the rails of ±%s: %s; list parts of a higher rating", r, s.File.Name, words.Part(b.Spec.SupplyV, "V"), refsOf(of[r])))
	}
	if missing != nil {
		out.missing = append(out.missing, fmt.Sprintf("%s does not list %s: add what is bought there", s.File.Name, words.List(missing)))
	}
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

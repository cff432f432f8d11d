package board

import (
	"cmp"
	"slices"

	"bandwright/compiler/netlist"
)

// Bin is parts of one value: what is ordered together.
type Bin struct {
	Kind  netlist.Kind // Resistor or Capacitor
	Value float64      // ohm or farad
	Refs  []string
}

// Bins lists the resistors and capacitors of all stages by value: resistors
// first, ascending, references in the order of the board.
func (b *Board) Bins() []Bin {
	var out []Bin
	for _, c := range b.Chains() {
		for _, s := range c.Built() {
			for _, p := range s.Placed() {
				if p.Kind != netlist.Amplifier {
					out = into(out, p.Kind, p.Value, p.Ref)
				}
			}
		}
	}
	return sorted(out)
}

// EndBins lists the parts of inputs and outputs that belong to the board, by
// use and value.
func (b *Board) EndBins(use Use) []Bin {
	var out []Bin
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if p.Use == use && p.held() {
				out = into(out, p.Kind, p.Value, p.Ref)
			}
		}
	}
	return sorted(out)
}

// Devices are the references of the diodes, relays or transistors of a use.
func (b *Board) Devices(use Use, kind netlist.Kind) []string {
	var out []string
	for _, c := range b.Chains() {
		for _, p := range c.Ends {
			if p.Use == use && p.Kind == kind {
				out = append(out, p.Ref)
			}
		}
	}
	return out
}

func into(bins []Bin, kind netlist.Kind, value float64, ref string) []Bin {
	for i := range bins {
		if bins[i].Kind == kind && bins[i].Value == value {
			bins[i].Refs = append(bins[i].Refs, ref)
			return bins
		}
	}
	return append(bins, Bin{kind, value, []string{ref}})
}

func sorted(bins []Bin) []Bin {
	slices.SortStableFunc(bins, func(a, b Bin) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Value, b.Value))
	})
	return bins
}

// DistinctValues counts the different values of resistors and capacitors in
// stages.
func (b *Board) DistinctValues() int { return len(b.Bins()) }

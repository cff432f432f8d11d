package parts

import (
	"bandwright/compiler/batch"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
)

// line is parts of one value that are bought in one class.
type line struct {
	board.Bin
	language.Class
	// chosen is false for parts that come as they come.
	chosen bool
}

// lines splits parts of one value by the class that each is bought in, the loosest
// first.
func (l *list) lines(x board.Bin, p *batch.Purchase) []line {
	from := l.stock(x.Kind)
	usual := language.Class{Tolerance: from.ToleranceOf(x.Value), Part: from.Part(x.Value)}
	rest := line{Bin: board.Bin{Kind: x.Kind, Value: x.Value}, Class: usual}
	var out []line
	for _, ref := range x.Refs {
		b, chosen := p.Of(ref)
		if !chosen {
			rest.Refs = append(rest.Refs, ref)
			continue
		}
		for len(out) < len(b.Classes) {
			out = append(out, line{board.Bin{Kind: x.Kind, Value: x.Value}, b.Classes[len(out)], true})
		}
		out[b.Chosen].Refs = append(out[b.Chosen].Refs, ref)
	}
	out = append(out, rest)
	var filled []line
	for _, y := range out {
		if y.Refs != nil {
			filled = append(filled, y)
		}
	}
	return filled
}

func (l *list) stock(k netlist.Kind) *language.Stock {
	if k == netlist.Capacitor {
		return &l.board.Capacitors
	}
	return &l.board.Resistors
}

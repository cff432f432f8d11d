package kicad

import (
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/drawing"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/words"
)

// column is a field of a part with what stands in it.
type column struct{ name, text string }

// bought says what is ordered for each part of the board, by its reference: what the
// parts list says as well.
func bought(b *compiler.Build) map[string][]column {
	out := map[string][]column{}
	classes := b.Batch.Bought()
	add := func(bins []board.Bin, always bool) {
		for _, bin := range bins {
			from := &b.Spec.Board.Resistors
			if bin.Kind == netlist.Capacitor {
				from = &b.Spec.Board.Capacitors
			}
			usual := language.Class{Tolerance: from.ToleranceOf(bin.Value), Part: from.Part(bin.Value)}
			for _, ref := range bin.Refs {
				class, chosen := usual, false
				if x, ok := classes.Of(ref); ok {
					class, chosen = x.Class(), true
				}
				if always || chosen || class.Part != nil {
					out[ref] = columns(class, from)
				}
			}
		}
	}
	add(b.Board.Bins(), true)
	for _, use := range []board.Use{board.SeriesResistance, board.RFFilter, board.Coupling, board.Bias, board.BuildOut, board.Discharge, board.Bleed} {
		add(b.Board.EndBins(use), false)
	}
	return out
}

// columns are those of the stock file that a part is of, the tolerance at least.
func columns(c language.Class, from *language.Stock) []column {
	out := []column{{"tolerance", words.Short(c.Tolerance*100) + " %"}}
	p := c.Part
	if p == nil {
		return out
	}
	out = append(out, column{"part", p.Name})
	if p.VoltageV > 0 {
		out = append(out, column{"voltage", words.Short(p.VoltageV) + " V"})
	}
	if p.KnowsTempCo {
		out = append(out, column{"tempco", words.Short(p.TempCo*1e6) + " ppm/K"})
	}
	out = append(out, column{"dielectric", p.Dielectric}, column{"price", p.Price})
	for i, name := range from.Columns {
		out = append(out, column{name, p.More[i]})
	}
	return out
}

// fields are those of a symbol that are not shown: the footprint, what is ordered, and
// what a simulation takes it for.
func (p *project) fields(x *drawing.Symbol) []column {
	footprint := column{name: "Footprint"}
	sheet := column{name: "Datasheet"}
	var more []column
	for _, c := range p.bought[x.Ref] {
		switch {
		case c.text == "":
		case strings.EqualFold(c.name, footprint.name):
			footprint.text = c.text
		case strings.EqualFold(c.name, sheet.name):
			sheet.text = c.text
		case strings.EqualFold(c.name, "Reference"), strings.EqualFold(c.name, "Value"), strings.EqualFold(c.name, "Description"):
			more = append(more, column{"stock " + c.name, c.text})
		default:
			more = append(more, c)
		}
	}
	out := []column{footprint}
	if sheet.text != "" {
		out = append(out, sheet)
	}
	if x.Kind == drawing.Selector {
		out = append(out, p.selectors[x.Ref].fields()...)
	}
	return append(append(out, more...), p.simulated(x)...)
}

package language

import (
	"fmt"
	"math"
	"slices"
)

// maxLayouts is how many layouts a spec may have.
const maxLayouts = 8

// layoutExample is an engine whose sums have 56 bits.
const layoutExample = "{name: engine, word: 28 bit, fraction: 23 bit, data: 24 bit, accumulator: 56 bit}"

// sectionWords are those of a section, in the order that a layout has unless it says otherwise.
var sectionWords = []string{"b0", "b1", "b2", "a1", "a2"}

// layoutKeys describe an engine.
func layoutKeys(lang Tables) []Key {
	e := lang.Engines
	width := func(limits [2]int) Type {
		return Type{Dims: []Dim{WordLength}, Min: float64(limits[0]), Max: float64(limits[1])}
	}
	return []Key{
		{Name: "name", Effect: Inert, Type: Type{Name: true}, Required: true,
			Doc: "Name of the layout, part of the file's.", Example: "engine"},
		{Name: "word", Effect: RealisesDigital, Type: width(e.Word), Required: true,
			Doc: "Width of a coefficient, two's complement.", Example: "28 bit"},
		{Name: "fraction", Effect: RealisesDigital, Type: width([2]int{1, e.Word[1] - 2}), Required: true,
			Doc: "How many of these bits are behind the point.", Example: "23 bit"},
		{Name: "data", Effect: RealisesDigital, Type: width(e.Data), Required: true,
			Doc: "Width of a sample between sections, full scale 1.", Example: "24 bit"},
		{Name: "accumulator", Effect: RealisesDigital, Type: width(e.Accumulator), Required: true,
			Doc: "Width of the sums of products.", Example: "56 bit"},
		{Name: "form", Effect: RealisesDigital, Type: Type{Words: names(e.Forms)}, Default: first(e.Forms),
			Doc: "How the engine computes a section.", Example: first(e.Forms)},
		{Name: "rounding", Effect: RealisesDigital, Type: Type{Words: []string{"down", "nearest"}}, Default: "down",
			Doc: "How a sum becomes a sample: bits are left out, or the nearest sample is taken.", Example: "nearest"},
		{Name: "first-order", Effect: RealisesDigital, Type: Type{Words: []string{"true", "false"}}, Default: "false",
			Doc: "Whether a section with real poles and zeros becomes two of the first order, which keep a low corner in fewer bits.", Example: "true"},
		{Name: "sections", Effect: RealisesDigital, Type: Type{Words: names(e.Sequences)}, Default: first(e.Sequences),
			Doc: "How the sections of a way follow one another: as the filters do but for one, or, of all orders tried, with the least noise or the least change of the magnitude by rounded coefficients.", Example: "quietest"},
		{Name: "order", Effect: RealisesDigital, Type: Type{List: &Type{Words: sectionWords}, MinLen: len(sectionWords), MaxLen: len(sectionWords)},
			Doc: "The order in which a section's coefficients are written; b0, b1, b2, a1, a2 by default.", Example: "[b2, b1, b0, a2, a1]"},
		{Name: "feedback", Effect: RealisesDigital, Type: Type{Words: []string{"minus", "plus"}}, Default: "minus",
			Doc: "Whether the engine subtracts the products with a1 and a2 or adds them, which turns their signs.", Example: "plus"},
		{Name: "as", Effect: Inert, Type: Type{Words: names(LayoutFiles)}, Default: LayoutFiles[0].Name,
			Doc: "C arrays, hexadecimal text, or big-endian bytes.", Example: "hex"},
	}
}

// bits is a width.
func (b *builder) bits(n *Value) int {
	if n.Number != math.Trunc(n.Number) {
		b.fault(n.Pos, quoted(n.Text)+" is not a whole number of bits", "a width is a whole number")
	}
	return int(n.Number)
}

// layout reads one, and checks its widths against each other.
func (b *builder) layout(v *Value, d *Digital, lang Tables) {
	bits := func(key string) int {
		if n := v.Get(key); n != nil {
			return b.bits(n)
		}
		return 0
	}
	l := Layout{Pos: v.Pos, Name: v.word("name"), Word: bits("word"), Fraction: bits("fraction"), Data: bits("data"), Accumulator: bits("accumulator"),
		Form: v.word("form"), Sections: v.word("sections"), FirstOrder: v.word("first-order") == "true", Nearest: v.word("rounding") == "nearest", Plus: v.word("feedback") == "plus", As: v.word("as")}
	at := func(key string) Pos {
		if n := v.Get(key); n != nil {
			return n.Pos
		}
		return v.Pos
	}
	for _, o := range v.Get("order").items() {
		if o == nil {
			continue
		}
		if slices.Contains(l.Order, o.Word) {
			b.fault(o.Pos, fmt.Sprintf("%s is named twice", quoted(o.Word)), "each of b0, b1, b2, a1 and a2 stands once")
			return
		}
		l.Order = append(l.Order, o.Word)
	}
	if len(l.Order) == 0 {
		l.Order = sectionWords
	}
	least := l.Data + l.Fraction + 2 // a sum of the coefficients below 4, which a section without a boost has
	switch {
	case l.Word > 0 && l.Fraction > 0 && l.Word-l.Fraction < 2:
		b.fault(at("fraction"), fmt.Sprintf("%d of %d bits behind the point leave coefficients below %d", l.Fraction, l.Word, 1),
			fmt.Sprintf("a1 is near 2 at low corners: at most %d bit", l.Word-2))
	case l.Word > 0 && l.Data > 0 && l.Accumulator > 0 && l.Fraction > 0 && l.Accumulator < least:
		b.fault(at("accumulator"), fmt.Sprintf("sums of products of %d and %d bits do not fit into %d", l.Fraction, l.Data, l.Accumulator),
			fmt.Sprintf("data, fraction and the sum of a section's coefficients take at least %d bit", least))
	case slices.ContainsFunc(lang.Formats, func(f Named) bool { return f.Name == l.Name }):
		b.fault(at("name"), quoted(l.Name)+" is the name of a number format", "another name")
	case slices.ContainsFunc(d.Layouts, func(o Layout) bool { return o.Name == l.Name }):
		b.fault(at("name"), "two layouts are called "+quoted(l.Name), "another name")
	}
	d.Layouts = append(d.Layouts, l)
}

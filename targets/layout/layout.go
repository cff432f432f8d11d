// Package layout emits NAME_LAYOUT files: coefficients for the registers of biquad engines
// that are not ours, one a layout of the spec. Finished chains of words go in, text or
// bytes come out. The one invariant: the words are those that the promises were judged
// with.
//
// Read first: Emit, page.
package layout

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/engine"
	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// Emit is the files of every layout; none where the spec has none.
func Emit(b *compiler.Build) ([]compiler.File, error) {
	if b.Spec.Digital == nil {
		return nil, nil
	}
	var out []compiler.File
	for _, l := range b.Spec.Digital.Layouts {
		p := &page{b: b, layout: l, name: b.Spec.Name + "_" + strings.ReplaceAll(l.Name, "-", "_")}
		for i := range b.Digital {
			if d := &b.Digital[i]; d.Laid != nil && d.Laid.Layout.Name == l.Name {
				p.rates = append(p.rates, d)
			}
		}
		out = append(out, writers[l.As](p)...)
	}
	return out, nil
}

// writers are the ways to write words, one a row of language.LayoutFiles.
var writers = map[string]func(p *page) []compiler.File{"c": (*page).inC, "hex": (*page).inHex, "binary": (*page).inBinary}

// page is one layout's words at all rates.
type page struct {
	b      *compiler.Build
	layout language.Layout
	name   string
	rates  []*compiler.Digital
}

// row is one section: its words in the order and with the signs of the engine.
type row struct {
	words []int64
	about string
}

// rows are the sections of a way.
func (p *page) rows(d *compiler.Digital, way int) []row {
	var out []row
	c := d.Laid.Chains[way]
	for i := range c.Positions {
		s := &c.Positions[i]
		for _, k := range defaultFirst(s) {
			w := s.Alt[k]
			about := fmt.Sprintf("%d %s", i, s.Line(k))
			if len(s.By) > 0 {
				about += ", with " + verify.Picked(p.b.Settings, s, k)
			}
			out = append(out, row{p.ordered(w), words.Comment(about)})
		}
	}
	return out
}

// defaultFirst are a position's alternatives in the order in which choices pick them, those
// of the first choices first.
func defaultFirst(s *biquad.Slot[engine.Words]) []int {
	if len(s.By) == 0 {
		return []int{0}
	}
	var out []int
	for _, k := range s.Pick {
		if !slices.Contains(out, int(k)) {
			out = append(out, int(k))
		}
	}
	return out
}

// ordered are a section's words as the engine wants them.
func (p *page) ordered(w engine.Words) []int64 {
	at := map[string]int{"b0": 0, "b1": 1, "b2": 2, "a1": 3, "a2": 4}
	var out []int64
	for _, name := range p.layout.Order {
		v := w[at[name]]
		if p.layout.Plus && at[name] >= 3 {
			v = -v
		}
		out = append(out, v)
	}
	return out
}

// about is what the head of a file says, a paragraph a line.
func (p *page) about() []string {
	l, e := p.layout, p.rates[0].Laid.Chains[0]
	sign, rounds := "subtracts", "down(s) = s over 2^%d without the rest, which rounds down"
	if l.Plus {
		sign = "adds"
	}
	if l.Nearest {
		rounds = "down(s) = s over 2^%d, rounded to the nearest, halves up"
	}
	out := []string{
		fmt.Sprintf("Coefficients of \"%s\" for the engine \"%s\". Spec SHA-256 %s", p.b.Spec.Name, l.Name, p.b.SHA256),
		"",
		fmt.Sprintf("A coefficient is an integer of %d bits, two's complement, with %d bits behind the point. A sample is an integer of %d bits, full scale "+
			"at 2^%d. Products are summed in %d bits. A section computes, in the form %s,", l.Word, l.Fraction, l.Data, l.Data-1, l.Accumulator, l.Form),
		"",
	}
	for _, line := range e.Form.Equations {
		out = append(out, "  "+line)
	}
	if l.FirstOrder {
		out = append(out, "", "Filters with real poles and zeros are written as two sections of the first order each: b2 and a2 are 0 there.")
	}
	if s := engine.SequenceByName(l.Sections); s != engine.Sequences[0] {
		out = append(out, "", fmt.Sprintf("Sections: %s. %s", s.Name, s.Doc))
	}
	out = append(out, "",
		fmt.Sprintf(rounds+", then limited to the largest and smallest sample.", l.Fraction),
		fmt.Sprintf("The words of a section are %s; the engine %s the products with a1 and a2.", strings.Join(l.Order, ", "), sign)+p.turned(),
		"",
		"The sections of a way stand in their order, the common filters among them; gain and polarity are part of them. A position with "+
			"settings has a row for each choice: write the one that is chosen, all five words between two samples, or while the way is muted: "+
			"sections that change while signal goes through click.", "")
	if db := p.b.Spec.Digital.HeadroomDB; db > 0 {
		out = append(out, fmt.Sprintf("The input is attenuated by %s, in the first section.", words.Level(db, "dB")), "")
	}
	return append(out, p.figures()...)
}

// turned says which words have the other sign.
func (p *page) turned() string {
	if p.layout.Plus {
		return " So a1 and a2 are written with the other sign than the equations have."
	}
	return ""
}

// figures are what the words and the roundings of the engine amount to, by rate and way.
func (p *page) figures() []string {
	out := []string{"What that amounts to, in the worst combination of settings: the largest error of the magnitude; round-off noise, 20 Hz to 20 kHz, re a full-scale " +
		"sine; the greatest sample that any input within full scale can cause; the DC that rounding down leaves; samples of delay, which the engine cannot make. " +
		"Nothing inside clips that does not clip at the output, whatever the input; or of full-scale sines only, as far as the words have room.", ""}
	var t words.Table
	t.Row("rate", "way", "sections", "error", "noise", "greatest", "DC", "delay", "clips inside")
	for _, d := range p.rates {
		for k, f := range verify.Of(p.b.Figures, d.Name()) {
			if k >= len(d.Laid.Chains) {
				continue // the sum
			}
			c := d.Laid.Chains[k]
			n := c.NewNoise(d.RateHz, 20, math.Min(20000, d.RateHz/2))
			fault, rest, clips := "-", "-", "never"
			if f.Magnitude.Known {
				fault = words.DB.Signed(f.Magnitude.Value)
			}
			if !p.layout.Nearest {
				rest = words.Level(worst(d, k, len(p.b.Settings), n.RestDBFS), "dBFS")
			}
			if c.Sines {
				clips = "no sine does"
			}
			t.Row(fmt.Sprintf("%d Hz", int(d.RateHz)), f.Way, fmt.Sprint(len(c.Positions)), fault, words.Level(worst(d, k, len(p.b.Settings), n.DBFS), "dBFS"),
				words.Level(c.BoundDBFS[len(c.BoundDBFS)-1], "dBFS"), rest, fmt.Sprint(c.DelaySamples), clips)
		}
	}
	out = append(out, t.Lines("  ", tableWidth)...)
	return append(out, "", "Caution: signals at full level can destroy drivers, and hearing. Start with the level turned down, check which way reaches which "+
		"amplifier, and keep the outputs muted until all words are written.")
}

// tableWidth is the columns of the table of figures.
const tableWidth = 110

// worst is the greatest of a figure over a way's combinations.
func worst(d *compiler.Digital, way, settings int, of func(biquad.Combination) float64) float64 {
	most := math.Inf(-1)
	biquad.Each(biquad.Axes(d.System.Ways[way].Cascade), settings, func(c biquad.Combination) { most = math.Max(most, of(c)) })
	return most
}

// head is the wrapped text of about, each line behind a mark.
func (p *page) head(mark string) string {
	const width = 96
	var out strings.Builder
	for _, paragraph := range p.about() {
		lines := []string{paragraph}
		if !strings.HasPrefix(paragraph, " ") {
			lines = words.Wrap(paragraph, "", "", width)
		}
		for _, line := range lines {
			out.WriteString(strings.TrimRight(mark+line, " ") + "\n")
		}
	}
	return out.String()
}

// inC is a header with an array a rate and way.
func (p *page) inC() []compiler.File {
	var out strings.Builder
	upper := strings.ToUpper(p.name)
	fmt.Fprintf(&out, "/*\n%s */\n#ifndef %s_H\n#define %s_H\n\n#include <stdint.h>\n", p.head(" * "), upper, upper)
	kind := "int32_t"
	if p.layout.Word > 32 {
		kind = "int64_t"
	}
	for _, d := range p.rates {
		for k, w := range d.System.Ways {
			rows := p.rows(d, k)
			fmt.Fprintf(&out, "\n/* %d Hz, %s */\nstatic const %s %s_%d_%s[%d][%d] = {\n", int(d.RateHz), w.Name, kind, p.name, int(d.RateHz),
				strings.ReplaceAll(w.Name, "-", "_"), len(rows), len(p.layout.Order))
			for i, r := range rows {
				var cells []string
				for _, v := range r.words {
					cells = append(cells, fmt.Sprint(v))
				}
				comma := ","
				if i == len(rows)-1 {
					comma = ""
				}
				fmt.Fprintf(&out, "    { %s }%s /* %s */\n", strings.Join(cells, ", "), comma, r.about)
			}
			out.WriteString("};\n")
		}
	}
	out.WriteString("\n#endif\n")
	return []compiler.File{{Name: p.name + ".h", Data: []byte(out.String())}}
}

// inHex is text: a section a line, its words as bit patterns.
func (p *page) inHex() []compiler.File {
	var out strings.Builder
	out.WriteString(p.head("# "))
	digits := (p.layout.Word + 3) / 4
	mask := uint64(1)<<p.layout.Word - 1
	p.each(func(d *compiler.Digital, way string, rows []row) {
		fmt.Fprintf(&out, "\n# %d Hz, %s\n", int(d.RateHz), way)
		for _, r := range rows {
			for _, v := range r.words {
				fmt.Fprintf(&out, "%0*x ", digits, uint64(v)&mask)
			}
			fmt.Fprintf(&out, "# %s\n", r.about)
		}
	})
	return []compiler.File{{Name: p.name + ".txt", Data: []byte(out.String())}}
}

// inBinary is the words one after another, each in as many whole bytes as it takes, its
// sign continued, the highest first; and a text that says where they are.
func (p *page) inBinary() []compiler.File {
	var out bytes.Buffer
	var index strings.Builder
	width := (p.layout.Word + 7) / 8
	index.WriteString(p.head("# "))
	fmt.Fprintf(&index, "#\n# %s.bin has %d bytes a word, two's complement, the highest byte first. Where each section begins:\n", p.name, width)
	p.each(func(d *compiler.Digital, way string, rows []row) {
		fmt.Fprintf(&index, "\n# %d Hz, %s\n", int(d.RateHz), way)
		for _, r := range rows {
			fmt.Fprintf(&index, "%06x # %s\n", out.Len(), r.about)
			for _, v := range r.words {
				var whole [8]byte
				binary.BigEndian.PutUint64(whole[:], uint64(v))
				out.Write(whole[8-width:])
			}
		}
	})
	return []compiler.File{{Name: p.name + ".bin", Data: out.Bytes()}, {Name: p.name + ".txt", Data: []byte(index.String())}}
}

// each goes through rates and ways.
func (p *page) each(do func(d *compiler.Digital, way string, rows []row)) {
	for _, d := range p.rates {
		for k, w := range d.System.Ways {
			do(d, w.Name, p.rows(d, k))
		}
	}
}

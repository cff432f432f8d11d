package kicad_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"bandwright/compiler/drawing"
	"bandwright/targets/kicad"
)

// box is the room that something takes on a page, in millimetres.
type box struct{ left, top, right, bottom float64 }

func (a box) meets(b box) bool {
	return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

var (
	lettering = regexp.MustCompile(`(?s)<g class="stroked-text"><desc>(.*?)</desc>(.*?)</g>`)
	corner    = regexp.MustCompile(`[ML](-?[\d.]+) (-?[\d.]+)`)
)

// pen is half of what letters are drawn with (mm).
const pen = 0.08

// lettered are the texts of a page as the suite plots them, stroke by stroke.
func lettered(t *testing.T, svg string) (words []string, room []box) {
	t.Helper()
	for _, m := range lettering.FindAllStringSubmatch(svg, -1) {
		b := box{1e9, 1e9, -1e9, -1e9}
		for _, c := range corner.FindAllStringSubmatch(m[2], -1) {
			x, errX := strconv.ParseFloat(c[1], 64)
			y, errY := strconv.ParseFloat(c[2], 64)
			if errX != nil || errY != nil {
				t.Fatal(c)
			}
			b = box{min(b.left, x-pen), min(b.top, y-pen), max(b.right, x+pen), max(b.bottom, y+pen)}
		}
		// What may be covered is plotted a second time on top.
		if !slices.Contains(room, b) {
			words, room = append(words, m[1]), append(room, b)
		}
	}
	return words, room
}

// On no page that the suite plots does a text lie on another one, or on a wire.
func TestPlottedTextsAreApart(t *testing.T) {
	for _, name := range boards {
		b, folder := emitted(t, name)
		if out, ok := run(t, folder, "sch", "export", "svg", "-o", "pages", name+".kicad_sch"); !ok {
			t.Fatal(out)
		}
		pages := map[string][]drawing.Wire{"": nil}
		for _, d := range draw(t, b) {
			pages["-"+d.Name] = d.Wires
		}
		for page, wires := range pages {
			svg, err := os.ReadFile(filepath.Join(folder, "pages", name+page+".svg"))
			if err != nil {
				t.Fatal(err)
			}
			words, room := lettered(t, string(svg))
			for _, fault := range touching(words, room, wires) {
				t.Errorf("%s%s: %s", name, page, fault)
			}
			if page != "" && len(words) < 30 {
				t.Errorf("%s%s: only %d texts", name, page, len(words))
			}
		}
	}
}

func touching(words []string, room []box, wires []drawing.Wire) (faults []string) {
	for i, a := range room {
		for k := range i {
			if a.meets(room[k]) {
				faults = append(faults, fmt.Sprintf("%q lies on %q", words[i], words[k]))
			}
		}
		for _, w := range wires {
			mm := func(n int) float64 { return float64(n) * drawing.GridMM }
			from, to := w.From, w.To
			if a.meets(box{mm(min(from.X, to.X)), mm(min(from.Y, to.Y)), mm(max(from.X, to.X)) + 1e-6, mm(max(from.Y, to.Y)) + 1e-6}) {
				faults = append(faults, fmt.Sprintf("%q lies on the wire from %v to %v", words[i], from, to))
			}
		}
	}
	return faults
}

// A text that is moved onto another is found.
func TestPlottedTextsBite(t *testing.T) {
	b := compile(t, "dabchick")
	sheets := draw(t, b)
	d := &sheets[1]
	for i := range d.Symbols {
		if d.Symbols[i].RefAt.S != "" && d.Symbols[i].ValueAt.S != "" {
			d.Symbols[i].RefAt.At = d.Symbols[i].ValueAt.At
		}
	}
	folder := write(t, kicad.EmitSheets(b, sheets))
	if out, ok := run(t, folder, "sch", "export", "svg", "-o", "pages", "dabchick.kicad_sch"); !ok {
		t.Fatal(out)
	}
	svg, err := os.ReadFile(filepath.Join(folder, "pages", "dabchick-"+d.Name+".svg"))
	if err != nil {
		t.Fatal(err)
	}
	if words, room := lettered(t, string(svg)); touching(words, room, d.Wires) == nil {
		t.Error("references that lie on values are not found")
	}
}

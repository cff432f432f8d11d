package kicad

import (
	"crypto/sha1"
	"fmt"
	"strconv"
	"strings"

	"bandwright/compiler/drawing"
)

// writer writes nested lists, one to a line.
type writer struct {
	text  strings.Builder
	depth int
}

// line writes one list, or part of one, on a line of its own.
func (w *writer) line(format string, args ...any) {
	w.text.WriteString(strings.Repeat("\t", w.depth))
	fmt.Fprintf(&w.text, format, args...)
	w.text.WriteByte('\n')
}

// open begins a list that goes on over several lines.
func (w *writer) open(format string, args ...any) {
	w.line("("+format, args...)
	w.depth++
}

// end closes the list that open began.
func (w *writer) end() {
	w.depth--
	w.line(")")
}

// field is one text that belongs to a symbol or a sheet.
type field struct {
	name, value string
	at          drawing.Fine
	turn        int
	size        drawing.TextSize
	justify     string
	hidden      bool
}

func (w *writer) field(f field) {
	w.line("(property %s %s (at %s %d) %s)", quoted(f.name), quoted(f.value), xyFine(f.at), f.turn, effects(f.size, f.justify, f.hidden))
}

// effects says how a text is written.
func effects(size drawing.TextSize, justify string, hidden bool) string {
	if hidden {
		return "(effects hide)"
	}
	s := tenths(size.Height())
	out := fmt.Sprintf("(effects (font (size %s %s))", s, s)
	if justify != "" {
		out += " (justify " + justify + ")"
	}
	return out + ")"
}

// xy and xyFine are places on a sheet.
func xy(p drawing.Point) string    { return tenths(10*p.X) + " " + tenths(10*p.Y) }
func xyFine(p drawing.Fine) string { return tenths(p.X) + " " + tenths(p.Y) }

// tenths is a length in millimetres, given in tenths of the grid.
func tenths(n int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	n *= micrometres
	s := strconv.Itoa(1000 + n%1000)
	return strings.TrimSuffix(sign+strconv.Itoa(n/1000)+"."+strings.TrimRight(s[1:], "0"), ".")
}

// micrometres is a tenth of drawing.GridMM.
const micrometres = 127

// quoted is a string of the format.
func quoted(s string) string { return `"` + escapes.Replace(s) + `"` }

// escapes are those of strings. What would be read as markup, such as a variable or a bar
// above a word, is parted by a blank.
var escapes = strings.NewReplacer("${", "$ {", "~{", "~ {", "^{", "^ {", "_{", "_ {", `\`, `\\`, `"`, `\"`, "\n", `\n`, "\r", "")

// id is a UUID of version 5 (RFC 4122, 4.3) in the space of the UUID that is all zeros.
// The same thing has the same one every time, so that a layout finds its parts again.
func id(words ...string) string {
	name := append(make([]byte, 16), "bandwright/"+strings.Join(words, "/")...)
	h := sha1.Sum(name)
	u := h[:16]
	u[6] = u[6]&0x0f | 0x50
	u[8] = u[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[0:4], u[4:6], u[6:8], u[8:10], u[10:])
}

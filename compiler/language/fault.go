package language

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Severity tells a fault that stops the compiler from a warning that does not.
type Severity int

// The severities.
const (
	Error Severity = iota
	Warning
)

// String is the word that a diagnostic shows.
func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "error"
}

// Fault is one diagnostic. Its text reads, over three lines or more,
//
//	specs/heron.yaml:12:9: error: `atz` is not a key of `high-pass`
//	    - high-pass: {atz: 22 Hz}
//	                  ^
//	    did you mean `at`?
type Fault struct {
	Severity Severity
	File     string
	Pos      Pos
	Line     string // the source line, without its end
	Message  string // what is wrong
	Right    string // what would be right; may be ""
}

// Fault makes a diagnostic about a place in the spec, for the stages behind
// Parse. With the zero Pos it is about the file as a whole.
func (s *Spec) Fault(sev Severity, at Pos, message, right string) Fault {
	return Fault{Severity: sev, File: s.File, Pos: at, Line: lineOf(s.Source, at.Line), Message: message, Right: right}
}

// Sort puts faults in the order of the file: by place, errors before warnings
// at one place. The order of equal ones is kept.
func Sort(faults []Fault) {
	slices.SortStableFunc(faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Pos.Line, b.Pos.Line), cmp.Compare(a.Pos.Col, b.Pos.Col), cmp.Compare(a.Severity, b.Severity))
	})
}

const (
	margin   = "    " // before everything but the first line
	tabStop  = 4      // columns that a tab is shown to
	maxShown = 92     // columns of a source line; longer ones are cut around the caret
	maxRight = 96     // columns of what would be right; longer ones are broken
)

// Error is the diagnostic's text, without a final newline.
func (f Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Pos.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", f.Pos.Line, f.Pos.Col)
	}
	fmt.Fprintf(&b, ": %s: %s", f.Severity, f.Message)
	if f.Pos.Line > 0 && strings.TrimSpace(f.Line) != "" {
		text, at := excerpt(f.Line, f.Pos.Col)
		b.WriteString("\n" + margin + text + "\n" + margin + strings.Repeat(" ", at) + "^")
	}
	if f.Right != "" {
		for _, l := range wrapped(f.Right) {
			b.WriteString("\n" + margin + l)
		}
	}
	return b.String()
}

// wrapped breaks a text into lines between words. What stands in backticks
// stays whole, so that it can be copied.
func wrapped(text string) []string {
	var words []string
	whole := false // the last word is not complete yet
	for _, w := range strings.Split(text, " ") {
		if whole {
			words[len(words)-1] += " " + w
		} else {
			words = append(words, w)
		}
		if strings.Count(w, "`")%2 == 1 {
			whole = !whole
		}
	}
	lines := []string{words[0]}
	for _, w := range words[1:] {
		last := &lines[len(lines)-1]
		if len([]rune(*last))+1+len([]rune(w)) > maxRight {
			lines = append(lines, w)
			continue
		}
		*last += " " + w
	}
	return lines
}

// excerpt is the part of a source line around column col (in runes from 1) as a
// terminal shows it, and how many columns stand before the caret. Tabs become
// spaces, control characters a dot.
func excerpt(line string, col int) (string, int) {
	type cell struct {
		text  string
		width int
	}
	var cells []cell
	caret, total := -1, 0
	i := 1
	for _, r := range line {
		if i == col {
			caret = len(cells)
		}
		c := cell{string(r), runeWidth(r)}
		switch {
		case r == '\t':
			n := tabStop - total%tabStop
			c = cell{strings.Repeat(" ", n), n}
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r), r == unicode.ReplacementChar:
			c = cell{"·", 1}
		}
		cells = append(cells, c)
		total += c.width
		i++
	}
	if caret < 0 {
		caret = len(cells)
	}
	from, to := 0, len(cells)
	if total > maxShown {
		// A window with the caret at two thirds shows what led to it.
		width := 0
		for from = caret; from > 0 && width+cells[from-1].width <= maxShown*2/3; from-- {
			width += cells[from-1].width
		}
		for to = caret; to < len(cells) && width+cells[to].width <= maxShown; to++ {
			width += cells[to].width
		}
		for from > 0 && width+cells[from-1].width <= maxShown {
			from--
			width += cells[from].width
		}
	}
	var b strings.Builder
	at := 0
	if from > 0 {
		b.WriteString("… ")
		at = 2
	}
	for k := from; k < to; k++ {
		if k < caret {
			at += cells[k].width
		}
		b.WriteString(cells[k].text)
	}
	if to < len(cells) {
		b.WriteString(" …")
	}
	return strings.TrimRight(b.String(), " "), at
}

// runeWidth is how many columns a terminal gives a character: 0 for marks that
// combine with the one before, 2 for the wide ranges of Unicode's UAX #11.
func runeWidth(r rune) int {
	if r < 0x300 {
		return 1
	}
	if unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf) {
		return 0
	}
	for _, w := range wide {
		if r >= w[0] && r <= w[1] {
			return 2
		}
	}
	return 1
}

// wide are the blocks whose characters are East Asian Wide or Fullwidth in
// EastAsianWidth.txt (UAX #11), by block: enough to place a caret.
var wide = [][2]rune{
	{0x1100, 0x115F}, {0x2E80, 0x303E}, {0x3041, 0x33FF}, {0x3400, 0x4DBF}, {0x4E00, 0xA4CF}, {0xA960, 0xA97C},
	{0xAC00, 0xD7A3}, {0xF900, 0xFAFF}, {0xFE30, 0xFE6F}, {0xFF00, 0xFF60}, {0xFFE0, 0xFFE6},
	{0x1F300, 0x1F64F}, {0x1F680, 0x1F6FF}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD},
}

// quoted is a text of the user's in a message: in backticks, cut where it is
// long, with what cannot be shown replaced by its code point.
func quoted(s string) string { return ticks(s, 48) }

// code is what the user may write instead, of any sensible length.
func code(s string) string { return ticks(s, 160) }

func ticks(s string, longest int) string {
	var b strings.Builder
	n := 0
	for _, r := range s {
		if n++; n > longest {
			b.WriteString("…")
			break
		}
		if !unicode.IsGraphic(r) || r != ' ' && unicode.IsSpace(r) {
			fmt.Fprintf(&b, "<U+%04X>", r)
			continue
		}
		b.WriteRune(r)
	}
	return "`" + b.String() + "`"
}

// list joins alternatives in a sentence: "a", "a or b", "a, b or c".
func list(words []string, last string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	n := len(words) - 1
	return strings.Join(words[:n], ", ") + " " + last + " " + words[n]
}

// ticked puts each word in backticks.
func ticked(words []string) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = quoted(w)
	}
	return out
}

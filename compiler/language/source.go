package language

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Limits of a spec, so that no input makes the compiler hang. A spec that a
// person wrote comes nowhere near them.
const (
	maxBytes   = 256 << 10
	maxLine    = 8_000  // characters a line: the lexer is quadratic in some (33 lines of 8 000 take 0.7 s, one of 250 000 takes 12 s, measured)
	maxTokens  = 60_000 // also of the values that aliases stand for
	maxNesting = 16
	maxKeys    = 1_000 // a mapping
	maxFaults  = 50    // that one run reports
)

// bom is the byte order mark that some editors put first.
var bom = []byte("\xef\xbb\xbf")

// reader turns the bytes into lines and collects the faults of every stage.
type reader struct {
	file   string
	lines  []string // without their ends and without the byte order mark
	faults []Fault
	held   bool // the file is a held board, not a spec
	stock  bool // it is a stock file
}

// noun is what the file is, in messages.
func (r *reader) noun() string {
	switch {
	case r.held:
		return "held board"
	case r.stock:
		return "stock file"
	}
	return "spec"
}

// firstLine is what the file usually begins with.
func (r *reader) firstLine() string {
	if r.held {
		return "bandwright-board: 1"
	}
	return "bandwright: 1"
}

// fault notes an error at a place.
func (r *reader) fault(at Pos, message, right string) {
	r.faults = append(r.faults, Fault{File: r.file, Pos: at, Line: r.line(at.Line), Message: message, Right: right})
}

// warn adds a fault that does not stop the compiler.
func (r *reader) warn(at Pos, message, right string) {
	r.fault(at, message, right)
	r.faults[len(r.faults)-1].Severity = Warning
}

// line is source line n, counted from 1; "" outside the file.
func (r *reader) line(n int) string {
	if n < 1 || n > len(r.lines) {
		return ""
	}
	return r.lines[n-1]
}

// from is the text of line at.Line from column at.Col on.
func (r *reader) from(at Pos) string {
	runes := []rune(r.line(at.Line))
	if at.Col < 1 || at.Col > len(runes) {
		return ""
	}
	return string(runes[at.Col-1:])
}

// lineOf is line n of a file as read, as reader.line.
func lineOf(src []byte, n int) string {
	if n < 1 {
		return ""
	}
	src = bytes.TrimPrefix(src, bom)
	for ; n > 1; n-- {
		i := bytes.IndexByte(src, '\n')
		if i < 0 {
			return ""
		}
		src = src[i+1:]
	}
	if i := bytes.IndexByte(src, '\n'); i >= 0 {
		src = src[:i]
	}
	return strings.ToValidUTF8(string(bytes.TrimSuffix(src, []byte("\r"))), "\ufffd")
}

// read checks the bytes and splits them into lines. It returns the text for the
// lexer: the same lines and columns, without what means nothing (the byte order
// mark, carriage returns, tabs before comments and spaces at the ends of lines,
// some of which make the lexer miscount its columns).
func (r *reader) read(src []byte) (text string, ok bool) {
	if len(src) > maxBytes {
		r.fault(Pos{1, 1}, fmt.Sprintf("the file has %d bytes, more than the %d KiB that a %s may have", len(src), maxBytes>>10, r.noun()), "is it the right file?")
		return "", false
	}
	if !r.split(src) {
		return "", false
	}
	var b strings.Builder
	for _, l := range r.lines {
		b.WriteString(strings.TrimRight(strings.ReplaceAll(l, "\t", " "), " "))
		b.WriteByte('\n')
	}
	return b.String(), true
}

// split takes the lines of a text file apart, and checks its characters.
func (r *reader) split(src []byte) (ok bool) {
	src = bytes.TrimPrefix(src, bom)
	for _, l := range bytes.Split(src, []byte("\n")) {
		r.lines = append(r.lines, strings.ToValidUTF8(string(bytes.TrimSuffix(l, []byte("\r"))), "\ufffd"))
	}
	if r.noText(src) {
		return false
	}
	before := len(r.faults)
	rest := src
	for n := range r.lines {
		l, after, _ := bytes.Cut(rest, []byte("\n"))
		r.characters(n+1, bytes.TrimSuffix(l, []byte("\r")))
		rest = after
	}
	return len(r.faults) == before
}

// noText refuses a file that is no text of bytes, by the first of what says so: each line of it would have a fault.
func (r *reader) noText(src []byte) bool {
	if bytes.HasPrefix(src, []byte("\xff\xfe")) || bytes.HasPrefix(src, []byte("\xfe\xff")) {
		r.fault(Pos{1, 1}, "the file is in UTF-16", "save the file as UTF-8")
		return true
	}
	no := func(at int, what string) bool {
		line := 1 + bytes.Count(src[:at], []byte("\n"))
		before := src[1+bytes.LastIndexByte(src[:at], '\n') : at]
		r.fault(Pos{line, 1 + utf8.RuneCount(before)}, what+": this is not a text file", "is it the right file? A "+r.noun()+" is UTF-8 text")
		return true
	}
	if at := bytes.IndexByte(src, 0); at >= 0 {
		return no(at, "a NUL character")
	}
	if first, odd, controls := strange(src); controls >= leastControls && odd*strangeShare > len(src) {
		if c, size := utf8.DecodeRune(src[first:]); c == utf8.RuneError && size == 1 {
			return no(first, fmt.Sprintf("the byte 0x%02X is not UTF-8", src[first]))
		}
		return no(first, fmt.Sprintf("the control character U+%04X", src[first]))
	}
	return false
}

// A file is no text where one byte in strangeShare is none of UTF-8 or a control character, and leastControls are
// control characters: of random bytes one in ten is one. Text in another encoding has none, and text that something
// was pasted into has one or two.
const strangeShare, leastControls = 20, 4

// strange counts the bytes that are none of UTF-8 or a control character, from the first on, and the latter of them.
func strange(src []byte) (first, odd, controls int) {
	first = -1
	for i := 0; i < len(src); {
		c, size := utf8.DecodeRune(src[i:])
		control := c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f
		if control || c == utf8.RuneError && size == 1 {
			if odd++; first < 0 {
				first = i
			}
			if control {
				controls++
			}
		}
		i += size
	}
	return first, odd, controls
}

// characters refuses what may not stand in line n: its first such character.
func (r *reader) characters(n int, line []byte) {
	col := 0
	for i := 0; i < len(line); {
		c, size := utf8.DecodeRune(line[i:])
		col++
		at := Pos{n, col}
		switch {
		case c == utf8.RuneError && size == 1:
			r.fault(at, fmt.Sprintf("the byte 0x%02X is not UTF-8", line[i]), "save the file as UTF-8")
			return
		case c == '\r':
			r.fault(at, "a carriage return in the middle of a line", "end lines with a line feed (LF), or with CR and LF")
			return
		case c < ' ' && c != '\t', c >= 0x7f && c < 0xa0, c == '\u2028', c == '\u2029', c == '\ufeff', c == '\ufffe', c == '\uffff':
			r.fault(at, fmt.Sprintf("the control character U+%04X", c), "remove it")
			return
		case col > maxLine:
			r.fault(at, fmt.Sprintf("a line of more than %d characters", maxLine), "break it into several lines")
			return
		}
		i += size
	}
	if col := tabColumn(string(line)); col > 0 {
		r.fault(Pos{n, col}, "a tab", "use spaces; a tab may only precede a comment")
	}
}

// tabColumn is the column of the first tab that stands before something other
// than a comment or the line's end, 0 if there is none. Both the indentation
// and the columns of a line with such tabs would depend on the reader.
func tabColumn(line string) int {
	tab, col := 0, 0
	quote, before := rune(0), ' '
	for _, c := range line {
		col++
		switch {
		case c == '\t':
			if tab == 0 {
				tab = col
			}
			c = ' '
		case quote != 0:
			if c == quote && (quote == '\'' || before != '\\') {
				quote = 0
			}
		case c == '#' && before == ' ':
			return 0
		case (c == '"' || c == '\'') && strings.ContainsRune(" [{,", before):
			quote = c
		}
		if c != ' ' && tab > 0 {
			return tab
		}
		before = c
	}
	return 0
}

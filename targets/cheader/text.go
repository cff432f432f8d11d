package cheader

import (
	"fmt"
	"strings"
	"unicode"
)

// comment makes text from a spec safe inside a C comment: one line, nothing
// that ends or begins a comment, continues a line, is read as a trigraph or
// turns the direction of writing.
func comment(s string) string {
	var out strings.Builder
	for _, r := range s {
		switch {
		case unicode.IsSpace(r), unicode.IsControl(r), unicode.Is(unicode.Cf, r), r == unicode.ReplacementChar:
			r = ' '
		case r == '\\':
			r = '/'
		}
		out.WriteRune(r)
	}
	s = strings.Join(strings.Fields(out.String()), " ")
	// Each replacement can only take a pair apart, never make a new one.
	for _, pair := range []string{"*/", "/*", "??", "//"} {
		for strings.Contains(s, pair) {
			s = strings.ReplaceAll(s, pair, pair[:1]+" "+pair[1:])
		}
	}
	return s
}

// wrap breaks text into lines of at most width characters where words allow.
func wrap(s string, width int) []string {
	var lines []string
	for _, word := range strings.Fields(s) {
		if n := len(lines); n > 0 && len([]rune(lines[n-1]))+1+len([]rune(word)) <= width {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, word)
	}
	return lines
}

// codeWidth is the columns of the header.
const codeWidth = 100

// fold breaks a statement that stands behind so many blanks where it is longer
// than a line.
func fold(blanks int, code string) string {
	const deeper = 4
	if blanks+len(code) <= codeWidth {
		return code
	}
	return strings.Join(wrap(code, codeWidth-blanks-deeper), "\n"+strings.Repeat(" ", blanks+deeper))
}

// identifier is a name of the spec as part of a C identifier.
func identifier(name string) string { return strings.ReplaceAll(name, "-", "_") }

// quoted is a text of the spec as C writes it. What is not of ASCII stands as its
// bytes, three octal digits each.
func quoted(s string) string {
	var out strings.Builder
	for _, c := range []byte(s) {
		switch {
		case c == '"' || c == '\\' || c == '?':
			out.WriteString("\\" + string(rune(c)))
		case c < ' ' || c > '~':
			fmt.Fprintf(&out, "\\%03o", c)
		default:
			out.WriteByte(c)
		}
	}
	return `"` + out.String() + `"`
}

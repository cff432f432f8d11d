package words

import (
	"strings"
	"unicode"
)

// Comment makes text from a spec safe inside a C comment: one line, nothing
// that ends or begins a comment, continues a line, is read as a trigraph or
// turns the direction of writing.
func Comment(s string) string {
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

// OrList is "1", "1 or 2", "1, 2 or 3".
func OrList(s []string) string {
	if len(s) == 1 {
		return s[0]
	}
	return strings.Join(s[:len(s)-1], ", ") + " or " + s[len(s)-1]
}

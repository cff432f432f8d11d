package cheader

import (
	"fmt"
	"strings"
)

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

// numbers are lines of constants.
func numbers[T int | uint8](of []T) []string {
	var text []string
	for i, v := range of {
		text = append(text, fmt.Sprintf("%du%s", v, comma(i < len(of)-1)))
	}
	return wrap(strings.Join(text, " "), codeWidth-4)
}

func comma(more bool) string {
	if more {
		return ","
	}
	return ""
}

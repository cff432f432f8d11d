package words

import (
	"strings"
	"unicode/utf8"
)

// Table lines up cells in columns. The zero value is empty and ready.
type Table struct {
	rows [][]string
}

// gap is what stands between two columns.
const gap = "  "

// Row adds a row. Rows may have different lengths.
func (t *Table) Row(cells ...string) { t.rows = append(t.rows, cells) }

// Lines returns the rows as lines of at most width characters, without
// trailing spaces. Where they would be wider, the first column, which holds
// names, is cut until they fit; the others hold figures and never are.
func (t *Table) Lines(indent string, width int) []string {
	var widths []int
	for _, r := range t.rows {
		for i, c := range r {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	total := utf8.RuneCountInString(indent) - len(gap)
	for _, w := range widths {
		total += w + len(gap)
	}
	if total > width && len(widths) > 0 {
		widths[0] = max(4, widths[0]-(total-width))
	}
	lines := make([]string, 0, len(t.rows))
	for _, r := range t.rows {
		var b strings.Builder
		b.WriteString(indent)
		for i, c := range r {
			if i == 0 {
				c = Cut(c, widths[0])
			}
			b.WriteString(c)
			b.WriteString(strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)))
			b.WriteString(gap)
		}
		lines = append(lines, strings.TrimRight(b.String(), " "))
	}
	return lines
}

// Cut shortens s to at most n characters, the last three of them dots where
// something was cut off.
func Cut(s string, n int) string {
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	if n <= 3 {
		return "..."[:max(0, n)]
	}
	return string([]rune(s)[:n-3]) + "..."
}

// Wrap breaks a paragraph into lines of at most width characters. The first
// line starts with first, the others with rest; a word longer than a line is
// broken.
func Wrap(text, first, rest string, width int) []string {
	var lines []string
	line, empty := first, true
	flush := func() {
		lines = append(lines, strings.TrimRight(line, " "))
		line, empty = rest, true
	}
	for _, w := range strings.Fields(text) {
		word := []rune(w)
		for len(word) > 0 {
			have := utf8.RuneCountInString(line)
			space := 1
			if empty {
				space = 0
			}
			switch {
			case have+space+len(word) <= width:
				line += " "[:space] + string(word)
				empty, word = false, nil
			case !empty:
				flush()
			default:
				n := min(len(word), max(1, width-have))
				line += string(word[:n])
				empty, word = false, word[n:]
			}
		}
	}
	if !empty || len(lines) == 0 {
		flush()
	}
	return lines
}

// List joins words as a sentence does: "a", "a and b", "a, b and c".
func List(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

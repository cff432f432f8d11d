package words

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Table lines up cells in columns. The zero value is empty and ready.
type Table struct {
	// Names is the column that holds names: where a table is too wide, it is
	// cut; the others hold figures and never are.
	Names int
	rows  [][]string
}

// gap is what stands between two columns.
const gap = "  "

// narrowest (characters) leaves something of a name.
const narrowest = 5

// Row adds a row. Rows may have different lengths.
func (t *Table) Row(cells ...string) { t.rows = append(t.rows, cells) }

// Lines returns the rows as lines of at most width characters, without
// trailing spaces, the column of names cut as far as that needs.
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
	if total > width && t.Names < len(widths) {
		widths[t.Names] = max(narrowest, widths[t.Names]-(total-width))
	}
	lines := make([]string, 0, len(t.rows))
	for _, r := range t.rows {
		var b strings.Builder
		b.WriteString(indent)
		for i, c := range r {
			c = Cut(c, widths[i])
			b.WriteString(c)
			b.WriteString(strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c)))
			b.WriteString(gap)
		}
		lines = append(lines, strings.TrimRight(b.String(), " "))
	}
	return lines
}

// Cut shortens s to at most n characters by three dots in its middle: names
// that begin alike mostly differ at their ends.
func Cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	const dots = "..."
	if n <= len(dots) {
		return dots[:max(0, n)]
	}
	tail := (n - len(dots)) / 2
	return string(r[:n-len(dots)-tail]) + dots + string(r[len(r)-tail:])
}

// Wrap breaks a paragraph into lines of at most width characters. The first
// line starts with first, the others with rest; a word longer than a line is
// broken, and a number stays with its unit.
func Wrap(text, first, rest string, width int) []string {
	var lines []string
	line, empty := first, true
	flush := func() {
		lines = append(lines, strings.TrimRight(line, " "))
		line, empty = rest, true
	}
	for _, w := range withUnits(strings.Fields(text)) {
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

// withUnits joins a number and the unit behind it to one word.
func withUnits(fields []string) []string {
	var out []string
	for i, f := range fields {
		unit := strings.TrimRight(f, ".,;:)")
		if i > 0 && slices.Contains(units, unit) && strings.ContainsAny(fields[i-1][:1], "-+0123456789") {
			out[len(out)-1] += " " + f
			continue
		}
		out = append(out, f)
	}
	return out
}

// units are those that this package writes.
var units = []string{"dB", "dBFS", "deg", "Hz", "kHz", "s", "ms", "us"}

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

// Numbers joins numbers as List does words.
func Numbers(list []int) string {
	var out []string
	for _, n := range list {
		out = append(out, strconv.Itoa(n))
	}
	return List(out)
}

// Once is a list without repeats, in its order.
func Once(list []string) []string {
	var out []string
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

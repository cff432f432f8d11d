package words

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
)

// JSON is a way to lay JSON out: a list or object stands on one line where it
// fits, otherwise one entry a line, and a long list of numbers in full lines. So
// coefficients read as a row, and a changed one is a changed line.
type JSON struct {
	Width  int // where a list or object breaks
	Indent int // of a level
	// Tables: an object that holds another one always breaks, and texts stand in
	// full lines as numbers do.
	Tables bool
	// Packed are keys of the whole whose values no person reads: so many levels of
	// them break, and what lies deeper stands on one line, however long.
	Packed map[string]int
}

// LayOut is valid JSON laid out anew. A negative zero becomes 0: it is the same
// number, and other readers trip over the sign.
func (style JSON) LayOut(src []byte) []byte {
	var compact bytes.Buffer
	if json.Compact(&compact, src) != nil {
		return src
	}
	l := layout{JSON: style}
	l.value(compact.Bytes(), 0, unpacked)
	return l.out.Bytes()
}

type layout struct {
	JSON
	out bytes.Buffer
}

// unpacked is the number of levels that break of what is not packed.
const unpacked = -1

// value writes a compact value that starts in column indent, of which so many
// levels break.
func (l *layout) value(src []byte, indent, levels int) {
	list := entries(src)
	of := func(first string) func(entry) bool {
		return func(e entry) bool { return strings.IndexByte(first, e.value[0]) >= 0 }
	}
	open := l.Tables && src[0] == '{' && slices.ContainsFunc(list, of("{"))
	if one := oneLine(src); levels == 0 || len(list) == 0 || indent+len(one) <= l.Width && !open {
		l.out.Write(one)
		return
	}
	apart := `[{"`
	if l.Tables {
		apart = `[{`
	}
	fill := src[0] == '[' && !slices.ContainsFunc(list, of(apart))
	column := l.Width
	l.out.WriteByte(src[0])
	for i, e := range list {
		if i > 0 {
			l.out.WriteByte(',')
		}
		if fill {
			one := oneLine(e.value)
			if column += len(", ") + len(one); column < l.Width {
				l.out.WriteByte(' ')
				l.out.Write(one)
				continue
			}
			column = indent + l.Indent + len(one)
		}
		l.line(indent + l.Indent)
		if e.key != nil {
			l.out.Write(e.key)
			l.out.WriteString(": ")
		}
		below := max(levels-1, unpacked)
		if n, packed := l.Packed[strings.Trim(string(e.key), `"`)]; packed && indent == 0 {
			below = n
		}
		l.value(e.value, indent+l.Indent, below)
	}
	l.line(indent)
	l.out.WriteByte(src[len(src)-1])
}

func (l *layout) line(indent int) { l.out.WriteString("\n" + strings.Repeat(" ", indent)) }

// entry is one of a list, whose key is nil, or of an object.
type entry struct{ key, value []byte }

// entries are those of a compact value, none of a scalar.
func entries(src []byte) (out []entry) {
	if src[0] != '[' && src[0] != '{' {
		return nil
	}
	for at := 1; at < len(src)-1; at++ { // over the comma
		var e entry
		if src[0] == '{' {
			end := skip(src, at)
			e.key, at = src[at:end], end+1
		}
		end := skip(src, at)
		e.value, at = src[at:end], end
		out = append(out, e)
	}
	return out
}

// oneLine is a compact value with a space behind every colon and comma.
func oneLine(src []byte) []byte {
	list := entries(src)
	if list == nil {
		if string(src) == "-0" {
			return src[1:]
		}
		return src
	}
	out := []byte{src[0]}
	for i, e := range list {
		if i > 0 {
			out = append(out, ", "...)
		}
		if e.key != nil {
			out = append(append(out, e.key...), ": "...)
		}
		out = append(out, oneLine(e.value)...)
	}
	return append(out, src[len(src)-1])
}

// skip is the end of the value that starts at at.
func skip(src []byte, at int) int {
	for depth := 0; at < len(src); at++ {
		switch src[at] {
		case '"':
			for at++; src[at] != '"'; at++ {
				if src[at] == '\\' {
					at++
				}
			}
		case '{', '[':
			depth++
		case '}', ']':
			if depth--; depth < 0 {
				return at
			}
		case ',', ':':
			if depth == 0 {
				return at
			}
		}
	}
	return at
}

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
	whole, _ := parse(compact.Bytes(), 0)
	l := layout{JSON: style, out: make([]byte, 0, 2*len(src))}
	l.value(&whole, 0, unpacked)
	return l.out
}

type layout struct {
	JSON
	out []byte
}

// node is a value of compact JSON. It is taken apart once, with its length on one line, as
// every level above asks for that.
type node struct {
	key, scalar []byte // key with its quotes, nil in a list; scalar nil of a list or object
	first       byte   // of the value
	of          []node
	length      int // on one line, without the key
}

// parse is the value that starts at at, and where it ends.
func parse(src []byte, at int) (node, int) {
	n := node{first: src[at], length: 2}
	if n.first != '[' && n.first != '{' {
		end := skip(src, at)
		n.scalar = src[at:end]
		if string(n.scalar) == "-0" {
			n.scalar = n.scalar[1:]
		}
		n.length = len(n.scalar)
		return n, end
	}
	for at++; src[at] != ']' && src[at] != '}'; {
		var key []byte
		if n.first == '{' {
			end := skip(src, at)
			key, at = src[at:end], end+1
		}
		var x node
		x, at = parse(src, at)
		if x.key = key; key != nil {
			n.length += len(key) + len(": ")
		}
		if n.length += x.length; len(n.of) > 0 {
			n.length += len(", ")
		}
		n.of = append(n.of, x)
		if src[at] == ',' {
			at++
		}
	}
	return n, at + 1
}

// closing is the bracket that ends a list or an object.
func (n *node) closing() byte { return n.first + 2 } // of "[]" and "{}"

// has reports whether an entry's value begins with one of some bytes.
func (n *node) has(first string) bool {
	return slices.ContainsFunc(n.of, func(x node) bool { return strings.IndexByte(first, x.first) >= 0 })
}

// unpacked is the number of levels that break of what is not packed.
const unpacked = -1

// value writes a value that starts in column indent, of which so many levels break.
func (l *layout) value(n *node, indent, levels int) {
	open := l.Tables && n.first == '{' && n.has("{")
	if levels == 0 || len(n.of) == 0 || indent+n.length <= l.Width && !open {
		l.oneLine(n)
		return
	}
	apart := `[{"`
	if l.Tables {
		apart = `[{`
	}
	fill := n.first == '[' && !n.has(apart)
	column := l.Width
	l.out = append(l.out, n.first)
	for i := range n.of {
		e := &n.of[i]
		if i > 0 {
			l.out = append(l.out, ',')
		}
		if fill {
			if column += len(", ") + e.length; column < l.Width {
				l.out = append(l.out, ' ')
				l.oneLine(e)
				continue
			}
			column = indent + l.Indent + e.length
		}
		l.line(indent + l.Indent)
		if e.key != nil {
			l.out = append(append(l.out, e.key...), ": "...)
		}
		below := max(levels-1, unpacked)
		if n, packed := l.Packed[strings.Trim(string(e.key), `"`)]; packed && indent == 0 {
			below = n
		}
		l.value(e, indent+l.Indent, below)
	}
	l.line(indent)
	l.out = append(l.out, n.closing())
}

func (l *layout) line(indent int) {
	l.out = append(l.out, '\n')
	for range indent {
		l.out = append(l.out, ' ')
	}
}

// oneLine writes a value with a space behind every colon and comma.
func (l *layout) oneLine(n *node) {
	if n.scalar != nil {
		l.out = append(l.out, n.scalar...)
		return
	}
	l.out = append(l.out, n.first)
	for i := range n.of {
		e := &n.of[i]
		if i > 0 {
			l.out = append(l.out, ", "...)
		}
		if e.key != nil {
			l.out = append(append(l.out, e.key...), ": "...)
		}
		l.oneLine(e)
	}
	l.out = append(l.out, n.closing())
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

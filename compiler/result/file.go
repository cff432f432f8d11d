package result

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// Bytes is NAME.json: one value a line where it fits, keys in the order of the
// types, shortest decimals, no negative zero. It fails where a number is not
// finite, which no build should hold.
func (r *Result) Bytes() ([]byte, error) { return pretty(r, lineWidth) }

// pretty is a value as JSON with line breaks, lines at most width wide where
// it can be.
func pretty(v any, width int) ([]byte, error) {
	var compact bytes.Buffer
	enc := json.NewEncoder(&compact)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("the result cannot be written as JSON: %w", err)
	}
	l := layout{src: bytes.TrimSpace(compact.Bytes()), width: width}
	l.value(0)
	l.out.WriteByte('\n')
	return l.out.Bytes(), nil
}

// Read takes a NAME.json. Keys that this version does not know are passed
// over; a file of another kind or version is an error.
func Read(data []byte) (*Result, error) {
	var r Result
	if err := json.Unmarshal(data, &r); err != nil {
		return nil, fmt.Errorf("not a result of bandwright: %w", err)
	}
	switch {
	case r.Bandwright == 0 || r.Name == "":
		return nil, fmt.Errorf("not a result of bandwright: `bandwright` or `name` is missing")
	case r.Bandwright != Version:
		return nil, fmt.Errorf("a result of version %d; this bandwright reads version %d", r.Bandwright, Version)
	}
	return &r, nil
}

// layout rewrites compact JSON, as encoding/json makes it, with line breaks:
// a list or object stands on one line where it fits, so that a section's
// coefficients read as a row and a changed one is a changed line.
type layout struct {
	src   []byte
	at    int
	width int // where a list or object breaks into one entry a line
	out   bytes.Buffer
}

// lineWidth is the width of NAME.json.
const lineWidth = 120

// value copies the value at l.at, which starts in column indent.
func (l *layout) value(indent int) {
	end := skip(l.src, l.at)
	if open := l.src[l.at]; open != '{' && open != '[' {
		l.scalar(end)
		return
	}
	if one := oneLine(l.src[l.at:end]); indent+len(one) <= l.width {
		l.out.Write(one)
		l.at = end
		return
	}
	if l.src[l.at] == '[' && !bytes.ContainsAny(l.src[l.at+1:end], `"[{`) {
		l.filled(indent, end)
		return
	}
	l.out.WriteByte(l.src[l.at])
	l.at++
	for {
		l.line(indent + 1)
		if l.src[end-1] == '}' {
			key := skip(l.src, l.at)
			l.out.Write(l.src[l.at:key])
			l.out.WriteString(": ")
			l.at = key + 1
		}
		l.value(indent + 1)
		l.at++ // the comma or the closing bracket
		if l.at == end {
			break
		}
		l.out.WriteByte(',')
	}
	l.line(indent)
	l.out.WriteByte(l.src[end-1])
}

// filled copies a long list of numbers, as many a line as fit.
func (l *layout) filled(indent, end int) {
	l.out.WriteByte('[')
	column := l.width
	for i, number := range bytes.Split(l.src[l.at+1:end-1], []byte(",")) {
		if i > 0 {
			l.out.WriteByte(',')
			column++
		}
		number = plainZero(number)
		if column+1+len(number) >= l.width {
			l.line(indent + 1)
			column = indent + 1
		} else {
			l.out.WriteByte(' ')
			column++
		}
		l.out.Write(number)
		column += len(number)
	}
	l.line(indent)
	l.out.WriteByte(']')
	l.at = end
}

func (l *layout) line(indent int) {
	l.out.WriteByte('\n')
	for range indent {
		l.out.WriteByte(' ')
	}
}

func (l *layout) scalar(end int) {
	l.out.Write(plainZero(l.src[l.at:end]))
	l.at = end
}

// oneLine is a compact value with a space after every colon and comma.
func oneLine(src []byte) []byte {
	var out []byte
	for at := 0; at < len(src); {
		switch c := src[at]; c {
		case '{', '[', '}', ']':
			out = append(out, c)
			at++
		case ',', ':':
			out = append(out, c, ' ')
			at++
		default:
			end := skip(src, at)
			out = append(out, plainZero(src[at:end])...)
			at = end
		}
	}
	return out
}

// plainZero writes the negative zero as 0: it is the same coefficient, and
// other readers trip over the sign.
func plainZero(scalar []byte) []byte {
	if string(scalar) == "-0" {
		return scalar[1:]
	}
	return scalar
}

// skip is the end of the value that starts at at.
func skip(src []byte, at int) int {
	depth := 0
	for at < len(src) {
		switch src[at] {
		case '"':
			for at++; src[at] != '"'; at++ {
				if src[at] == '\\' {
					at++
				}
			}
			at++
		case '{', '[':
			depth++
			at++
		case '}', ']':
			depth--
			at++
		case ',', ':':
			at++
		default:
			for at < len(src) && !bytes.ContainsRune([]byte(`,:]}"`), rune(src[at])) {
				at++
			}
		}
		if depth == 0 {
			return at
		}
	}
	return at
}

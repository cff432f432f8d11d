package language

import (
	"encoding/json"
	"strconv"
	"strings"
)

// object is a JSON object whose members keep their order. Beside it a value is
// a []any, a string, a float64, a json.Number, a bool or nil.
type object []member

type member struct {
	key   string
	value any
}

// asJSON is a node as a JSON value. A scalar in quotes is a string; any other
// becomes what YAML 1.2 makes of it, but for numbers outside our grammar, which
// stay the text that they are. A key without a value, and one with a fault, is
// null.
func asJSON(n *node) any {
	switch n.shape {
	case listing:
		out := []any{}
		for _, i := range n.items {
			out = append(out, asJSON(i))
		}
		return out
	case mapping:
		out := object{}
		for _, e := range n.entries {
			out = append(out, member{e.key, asJSON(e.value)})
		}
		return out
	case scalar:
		switch {
		case n.quotes:
			return n.text
		case n.text == "true", n.text == "false":
			return n.text == "true"
		case n.text != "" && number(n.text) == len(n.text):
			return json.Number(strings.TrimPrefix(n.text, "+"))
		}
		return n.text
	}
	return nil
}

// literal is a table's text as a JSON value.
func literal(text string) any {
	r := &reader{}
	if src, ok := r.read([]byte("key: " + text)); ok {
		if root := r.tree(src); root != nil && root.shape == mapping && len(r.faults) == 0 {
			return asJSON(root.entries[0].value)
		}
	}
	return text
}

// jsonWidth is where a list or object breaks into one entry a line.
const jsonWidth = 120

// pretty is a value as text, without a final newline.
func pretty(v any) []byte {
	w := jsonWriter{}
	w.value(v, 0)
	return w.out
}

type jsonWriter struct{ out []byte }

func (w *jsonWriter) value(v any, indent int) {
	var open, end byte
	n := 0
	switch v := v.(type) {
	case object:
		open, end, n = '{', '}', len(v)
	case []any:
		open, end, n = '[', ']', len(v)
	default:
		w.out = append(w.out, flat(v)...)
		return
	}
	if one := flat(v); n == 0 || indent+len(one) <= jsonWidth && !deep(v) {
		w.out = append(w.out, one...)
		return
	}
	w.out = append(w.out, open)
	fills := scalars(v)
	column := jsonWidth
	for i := range n {
		if i > 0 {
			w.out = append(w.out, ',')
		}
		if fills { // as many on a line as fit
			one := flat(v.([]any)[i])
			if column += len(one) + 2; column < jsonWidth {
				w.out = append(w.out, ' ')
			} else {
				column = indent + 2 + len(one)
				w.line(indent + 2)
			}
			w.out = append(w.out, one...)
			continue
		}
		w.line(indent + 2)
		below := v
		switch v := v.(type) {
		case object:
			w.out = append(append(w.out, flat(v[i].key)...), ": "...)
			below = v[i].value
		case []any:
			below = v[i]
		}
		w.value(below, indent+2)
	}
	w.line(indent)
	w.out = append(w.out, end)
}

func (w *jsonWriter) line(indent int) {
	w.out = append(w.out, '\n')
	for range indent {
		w.out = append(w.out, ' ')
	}
}

// scalars reports whether a value is a list of nothing but scalars.
func scalars(v any) bool {
	list, ok := v.([]any)
	for _, x := range list {
		switch x.(type) {
		case object, []any:
			return false
		}
	}
	return ok
}

// deep reports whether a value holds an object that holds another value than a
// scalar: such stand on several lines, however short.
func deep(v any) bool {
	o, ok := v.(object)
	if !ok {
		return false
	}
	for _, m := range o {
		if _, inner := m.value.(object); inner {
			return true
		}
	}
	return false
}

// flat is a value on one line.
func flat(v any) string {
	var parts []string
	switch v := v.(type) {
	case object:
		for _, m := range v {
			parts = append(parts, flat(m.key)+": "+flat(m.value))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case []any:
		for _, x := range v {
			parts = append(parts, flat(x))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case string:
		return quotedJSON(v)
	case json.Number:
		return v.String()
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(v)
	}
	return "null"
}

// quotedJSON is a string in quotes, readable: of all signs only quotes,
// backslashes, control characters and the no-break space are escaped.
func quotedJSON(s string) string {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if enc.Encode(s) != nil {
		return `""`
	}
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), nbsp, `\u00a0`)
}

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

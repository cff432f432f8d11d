package language

import (
	"slices"
	"strings"
)

// lone reports an element of a mapping in braces that has no colon: a value
// without its key, or a key without its value. t is the mapping's type, nil
// where it is not known.
func (w *walker) lone(n *node, t *Type) {
	right := "inside `{ }` every element is `key: value`"
	if number(n.text) == 0 {
		w.fault(n.at, quoted(n.text)+" has no value", right)
		return
	}
	if t != nil {
		var fits []string
		for _, k := range t.Keys {
			if x, dim, ok := quantity(n.text, k.Type.Dims); ok && len(k.Type.Dims) > 0 && k.Type.bounds(x, dim) == "" {
				fits = append(fits, code(k.Name+": "+n.text))
			}
		}
		if fits != nil {
			right += ", such as " + list(fits, "or")
		}
	}
	w.fault(n.at, quoted(n.text)+" has no key", right)
}

// braced reports values in braces where one value or a list belongs,
// "gain: {-1.5 dB}", and whether it did.
func (w *walker) braced(n *node, t *Type, h holder) bool {
	if n.shape != mapping || len(n.entries) == 0 || slices.ContainsFunc(n.entries, func(e entry) bool { return e.value.shape != lone }) {
		return false
	}
	var all []string
	for _, e := range n.entries {
		all = append(all, e.key)
	}
	text := all[0]
	if t.List != nil {
		if !t.List.takes(scalar) {
			return false
		}
		text = "[" + strings.Join(all, ", ") + "]"
	} else if len(all) > 1 {
		return false
	}
	if h.key != "" {
		text = h.key + ": " + text
	}
	w.fault(n.at, h.name+" has braces around a value: `{ }` is for `key: value`", "write "+code(text))
	return true
}

package language

// Instance is a file as the JSON value that a schema judges, with scalars as
// they are written, and whether it could be read at all.
func Instance(src []byte) (v any, ok bool) {
	r := &reader{}
	text, ok := r.read(src)
	if !ok {
		return nil, false
	}
	root := r.tree(text)
	if root == nil || len(r.faults) > 0 {
		return nil, false
	}
	return plain(asJSON(root)), true
}

// plain is a value with Go maps in place of ordered objects.
func plain(v any) any {
	switch v := v.(type) {
	case object:
		m := map[string]any{}
		for _, e := range v {
			m[e.key] = plain(e.value)
		}
		return m
	case []any:
		out := []any{}
		for _, x := range v {
			out = append(out, plain(x))
		}
		return out
	}
	return v
}

// HeldGrammar is the file of a held board as one type.
var HeldGrammar = heldGrammar

// Walk is the faults that a grammar alone finds in a file.
func Walk(src []byte, g Type, lang Tables) []Fault {
	w := walker{reader: &reader{}, lang: lang}
	if text, ok := w.read(src); ok {
		if root := w.tree(text); root != nil {
			w.value(root, &g, holder{at: root.at, name: "the file"})
		}
	}
	return w.sorted()
}

// Arguments is the mapping of a kind of filter.
func Arguments(k Kind, lang Tables) *Type {
	t := k.arguments(lang)
	return &t
}

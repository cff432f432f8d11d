package language

import (
	"fmt"
	"path"
	"slices"
	"strings"
)

// walker checks nodes against types. Whatever is wrong becomes a fault once; a
// value with a fault is nil, also as an item or a field, so that its container
// can still be judged.
type walker struct {
	*reader
	lang   Tables
	faulty map[*node]bool // the nodes with faults, which an alias must not repeat
}

// holder is what a value belongs to, for messages.
type holder struct {
	at      Pos    // of the key, or of an item of a list
	name    string // as a subject: "`at`", "`rates[0]`"
	key     string // as written before a colon; "" for an item of a list
	example string // of the value
}

// value checks a node against a type. An alias brings the same node here again:
// faults that it had the first time are not said twice.
func (w *walker) value(n *node, t *Type, h holder) *Value {
	before := len(w.faults)
	v := w.check(n, t, h)
	if len(w.faults) == before {
		return v
	}
	if w.faulty[n] {
		w.faults = w.faults[:before]
	}
	if w.faulty == nil {
		w.faulty = map[*node]bool{}
	}
	w.faulty[n] = true
	return v
}

func (w *walker) check(n *node, t *Type, h holder) *Value {
	switch n.shape {
	case broken:
		return nil
	case lone:
		w.lone(n, nil)
		return nil
	case empty:
		w.missingValue(n, t, h)
		return nil
	}
	alt := w.alternative(n, t)
	switch {
	case alt == nil:
	case alt.Files != nil && t.lists(scalar) && number(n.text) > 0 && !slices.Contains(alt.Files, path.Ext(n.text)): // one value of a list
	case n.shape == scalar:
		return w.scalar(n, alt, h)
	case n.shape == listing:
		return w.list(n, alt, h)
	case alt.Filter:
		return w.filter(n, h)
	case alt.Map != nil:
		return w.names(n, alt, h)
	case alt.Parts != nil:
		return w.parts(n, alt)
	default:
		return w.keys(n, alt, t.Either, h)
	}
	if w.braced(n, t, h) {
		return nil
	}
	is := map[shape]string{scalar: "a single value", listing: "a list", mapping: "a mapping"}[n.shape]
	right := "it takes " + describe(t)
	switch {
	case n.shape == scalar && t.lists(scalar) && h.key != "":
		right = "write " + code(h.key+": ["+n.text+"]")
	case t.Filter:
		kind, ok := w.lang.kind(n.text)
		if !ok && len(w.lang.Kinds) > 0 {
			kind = w.lang.Kinds[0]
		}
		right += ", such as " + code(kind.example())
	case h.key != "" && h.example != "":
		right += ", such as " + code(h.key+": "+h.example)
	}
	w.fault(n.at, h.name+" cannot be "+is, right)
	return nil
}

// missingValue is about a key with nothing behind it.
func (w *walker) missingValue(n *node, t *Type, h holder) {
	right := "it takes " + describe(t)
	switch {
	case n.text != "":
		w.fault(n.at, fmt.Sprintf("%s has no value: YAML reads %s as empty", h.name, quoted(n.text)), "write a value, or leave the key out; put text in quotes")
		return
	case h.key != "" && len(t.Keys) > 0 && !slices.ContainsFunc(t.Keys, func(k Key) bool { return k.Required }):
		right = "write " + code(h.key+": {}") + " for all defaults, or indent its keys below it"
	case h.key != "" && h.example != "":
		right = "write " + code(h.key+": "+h.example)
	}
	w.fault(n.at, h.name+" has no value", right)
}

// alternative is the type that a node of this shape means, nil if none.
func (w *walker) alternative(n *node, t *Type) *Type {
	if t.Either == nil {
		if t.takes(n.shape) {
			return t
		}
		return nil
	}
	var found *Type
	most := -1
	for i := range t.Either {
		a := &t.Either[i]
		if a.shape() != n.shape {
			continue
		}
		// Two mappings are told apart by the keys that are not in every one.
		own := 0
		for _, e := range n.entries {
			if a.hasKey(e.key) && slices.ContainsFunc(t.Either, func(b Type) bool { return b.Keys != nil && !b.hasKey(e.key) }) {
				own++
			}
		}
		if own > most {
			found, most = a, own
		}
	}
	return found
}

func (t *Type) shape() shape {
	switch {
	case t.List != nil:
		return listing
	case t.Keys != nil, t.Map != nil, t.Parts != nil, t.Filter:
		return mapping
	}
	return scalar
}

// takes reports whether values of this shape can be of the type.
func (t *Type) takes(s shape) bool {
	if t.Either == nil {
		return t.shape() == s
	}
	return slices.ContainsFunc(t.Either, func(a Type) bool { return a.takes(s) })
}

// lists reports whether the type is a list, or may be one, of values of a shape.
func (t *Type) lists(s shape) bool {
	if t.List != nil {
		return t.List.takes(s)
	}
	return slices.ContainsFunc(t.Either, func(a Type) bool { return a.lists(s) })
}

func (t *Type) hasKey(name string) bool {
	return slices.ContainsFunc(t.Keys, func(k Key) bool { return k.Name == name })
}

func (w *walker) list(n *node, t *Type, h holder) *Value {
	v := &Value{Pos: n.at, Given: true, Items: []*Value{}}
	if !w.count(n.at, len(n.items), t, h, "item") {
		return nil
	}
	for i := 0; i < len(n.items); i++ {
		it := n.items[i]
		if it.cut != "" {
			one, two := comma(it, t.List)
			if one {
				it = &node{at: it.at, shape: scalar, text: it.cut}
				i++
			}
			if one && two {
				w.fault(it.at, quoted(it.text)+" is ambiguous: one value or two", fmt.Sprintf("write %s, or %s with a space after the comma",
					code(strings.Replace(it.text, ",", ".", 1)), code(strings.Replace(it.text, ",", ", ", 1))))
				it = &node{at: it.at, shape: broken}
			}
		}
		item := holder{at: it.at, name: fmt.Sprintf("%s[%d]`", strings.TrimSuffix(h.name, "`"), len(v.Items)), example: t.List.example()}
		v.Items = append(v.Items, w.value(it, t.List, item))
	}
	return v
}

// comma reports whether an item of a list and the one behind it may be one
// value with a decimal comma, and whether they may be two.
func comma(n *node, t *Type) (one, two bool) {
	for i := range t.Either {
		if a := &t.Either[i]; a.takes(scalar) {
			return comma(n, a)
		}
	}
	_, behind, _ := strings.Cut(n.cut, ",")
	_, unit := unitNamed(strings.TrimSpace(behind[number(behind):]))
	two = t.Text || slices.Contains(t.Words, n.text)
	return unit || len(t.Dims) > 0 && !two, two
}

// count checks the length of a list or of a mapping of names.
func (w *walker) count(at Pos, n int, t *Type, h holder, what string) bool {
	plural := func(n int) string {
		if n == 1 {
			return "1 " + what
		}
		return fmt.Sprintf("%d %ss", n, strings.Replace(what, "entry", "entrie", 1))
	}
	wants := ""
	switch {
	case t.MinLen == t.MaxLen && n != t.MinLen && t.MinLen > 0:
		wants = "exactly " + plural(t.MinLen)
	case n < t.MinLen:
		wants = "at least " + plural(t.MinLen)
	case t.MaxLen > 0 && n > t.MaxLen:
		wants = "at most " + plural(t.MaxLen)
	default:
		return true
	}
	has := plural(n)
	if n == 0 {
		has = "nothing in it"
	}
	w.fault(at, fmt.Sprintf("%s has %s", h.name, has), "it takes "+wants)
	return false
}

// names checks a mapping whose keys the user chose.
func (w *walker) names(n *node, t *Type, h holder) *Value {
	v := &Value{Pos: n.at, Given: true}
	if !w.count(n.at, len(n.entries), t, h, "entry") {
		return nil
	}
	for _, e := range n.entries {
		if t.Name && e.value.shape != lone {
			w.name(e.at, e.key, &Type{Name: true})
		}
		f := Field{Key: e.key, KeyPos: e.at}
		f.Value = w.value(e.value, t.Map, holder{at: e.at, name: quoted(e.key), key: e.key, example: t.Map.example()})
		v.Fields = append(v.Fields, f)
	}
	return v
}

// keys checks a mapping against its key table. others are the alternatives of
// the type, of which t is one.
func (w *walker) keys(n *node, t *Type, others []Type, h holder) *Value {
	v := &Value{Pos: n.at, Given: true}
	there := map[string]bool{}
	for _, e := range n.entries {
		there[e.key] = true
	}
	whole := true // no element may stand for a key that is missing
	for _, e := range n.entries {
		name := e.key
		if e.value.shape == lone && !t.hasKey(name) {
			w.lone(e.value, t)
			whole = false
			continue
		}
		if !t.hasKey(name) {
			if name = w.unknownKey(e, t, others, h); name == "" || there[name] {
				continue
			}
			there[name] = true
		}
		k := &t.Keys[slices.IndexFunc(t.Keys, func(k Key) bool { return k.Name == name })]
		f := Field{Key: name, KeyPos: e.at}
		before := len(w.faults)
		f.Value = w.value(e.value, &k.Type, holder{at: e.at, name: quoted(k.Name), key: k.Name, example: k.Example})
		if name != e.key {
			// What is below a misspelt key serves the rest of the file, but to
			// find fault with it would be to build on a guess.
			w.faults = w.faults[:before]
		}
		v.Fields = append(v.Fields, f)
	}
	if whole && len(t.AnyOf) > 0 && !slices.ContainsFunc(t.AnyOf, func(name string) bool { return there[name] }) {
		w.fault(h.at, fmt.Sprintf("%s lacks %s", h.name, list(ticked(t.AnyOf), "and")), t.addingAny())
	}
	for i := range t.Keys {
		k := &t.Keys[i]
		if there[k.Name] {
			continue
		}
		if k.Required {
			if !whole {
				continue
			}
			w.fault(h.at, fmt.Sprintf("%s lacks %s", h.name, quoted(k.Name)), adding(k))
			continue
		}
		if k.Default == "" {
			continue
		}
		v.Fields = append(v.Fields, Field{Key: k.Name, KeyPos: h.at, Value: w.byDefault(k, h.at)})
	}
	return v
}

// addingAny says what one of AnyOf would look like.
func (t *Type) addingAny() string {
	var all []string
	for _, name := range t.AnyOf {
		k := &t.Keys[slices.IndexFunc(t.Keys, func(k Key) bool { return k.Name == name })]
		all = append(all, code(k.Name+": "+k.Example))
	}
	return "add " + list(all, "or") + ", or both"
}

// adding says what a missing key would look like.
func adding(k *Key) string {
	right := "add " + code(k.Name+": "+k.Example)
	t := &k.Type
	if t.List != nil {
		t = t.List
	}
	if t.isWords() {
		return right + "; " + choices(t.Words)
	}
	return right + ". " + k.Doc
}

// choices says what there is to choose from.
func choices(words []string) string {
	if len(words) == 1 {
		return "the only choice is " + quoted(words[0])
	}
	return "the choices are " + list(ticked(words), "and")
}

// isWords reports whether only words are values of the type.
func (t *Type) isWords() bool {
	return len(t.Words) > 0 && t.shape() == scalar && len(t.Dims) == 0 && !t.Number && !t.Integer && !t.Text && !t.Name && !t.Stem && t.Files == nil
}

// byDefault is the value of a key that was left out.
func (w *walker) byDefault(k *Key, at Pos) *Value {
	n := &node{at: at, shape: scalar, text: k.Default}
	if k.Default == "{}" {
		n.shape = mapping
	}
	v := w.value(n, &k.Type, holder{at: at, name: quoted(k.Name), key: k.Name, example: k.Example})
	if v != nil {
		v.Given = false
	}
	return v
}

// unknownKey reports a key that the table does not have and returns the one
// that was meant, "" if that cannot be told.
func (w *walker) unknownKey(e entry, t *Type, others []Type, h holder) string {
	for _, r := range t.refused {
		if r.key == e.key {
			w.fault(e.at, r.message, r.right)
			return ""
		}
	}
	for i := range others {
		if o := &others[i]; o != t && o.hasKey(e.key) {
			w.fault(e.at, fmt.Sprintf("%s cannot be combined with the other keys of %s", quoted(e.key), h.name),
				"write either "+list(ticked(without(o, t)), "and")+", or "+list(ticked(without(t, o)), "and"))
			return ""
		}
	}
	var names []string
	for _, k := range t.Keys {
		names = append(names, k.Name)
	}
	right := "it takes " + list(ticked(names), "and")
	meant := Nearest(e.key, names)
	if meant != "" {
		right = "did you mean " + quoted(meant) + "?"
	} else if len(names) == 0 {
		right = "it takes no keys"
	}
	w.fault(e.at, fmt.Sprintf("%s is not a key of %s", quoted(e.key), h.name), right)
	return meant
}

// without are the names of t's keys that o lacks.
func without(t, o *Type) []string {
	var own []string
	for _, k := range t.Keys {
		if !o.hasKey(k.Name) {
			own = append(own, k.Name)
		}
	}
	return own
}

// filter checks a mapping of one key, the kind.
func (w *walker) filter(n *node, h holder) *Value {
	var names []string
	for _, k := range w.lang.Kinds {
		names = append(names, k.Name)
	}
	if len(n.entries) == 0 {
		w.fault(n.at, h.name+" has nothing in it", "a filter is one key, its kind: "+list(ticked(names), "or"))
		return nil
	}
	first := n.entries[0]
	if first.value.shape == lone {
		w.lone(first.value, nil)
		return nil
	}
	k := slices.IndexFunc(w.lang.Kinds, func(k Kind) bool { return k.Name == first.key })
	if k < 0 {
		right := "the kinds are " + list(ticked(names), "and")
		if s := Nearest(first.key, names); s != "" {
			right = "did you mean " + quoted(s) + "?"
		}
		w.fault(first.at, quoted(first.key)+" is not a kind of filter", right)
		return nil
	}
	kind := &w.lang.Kinds[k]
	if len(n.entries) > 1 {
		e := n.entries[1]
		right := fmt.Sprintf("indent it deeper, or write %s", code(kind.Name+": {"+e.key+": …}"))
		if slices.Contains(names, e.key) {
			right = "begin every filter with `- `"
		}
		w.fault(e.at, fmt.Sprintf("%s is next to %s, not inside it", quoted(e.key), quoted(kind.Name)), right)
		return nil
	}
	t := kind.arguments(w.lang)
	h = holder{at: first.at, name: quoted(kind.Name), key: kind.Name, example: strings.TrimPrefix(kind.example(), kind.Name+": ")}
	args := first.value
	if kind.Bare != "" && args.shape == scalar {
		args = &node{at: args.at, shape: mapping, entries: []entry{{kind.Bare, args.at, args}}}
	}
	if kind.Bare != "" && w.braced(args, &Type{}, h) {
		return nil
	}
	return &Value{Pos: n.at, Given: true, Fields: []Field{{kind.Name, first.at, w.value(args, &t, h)}}}
}

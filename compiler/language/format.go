package language

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Format is a spec in a canonical layout: the keys of each table in its order,
// blocks in lines and filters in braces, quotes only where they are needed.
// Values stand as they were written, what a default filled in is left out, and
// what has an order that means something keeps it: settings, choices, ways,
// filters, crossovers. Comments are lost, and aliases are written out, so that
// a spec which repeats much by aliases can come out longer than Parse allows.
//
// Parse(Format(s)) gives s again but for places and the order of keys. s must
// come from Parse with these tables; Format reads what it was parsed from.
func Format(s *Spec, lang Tables) []byte {
	r := &reader{}
	text, ok := r.read(s.Source)
	if !ok {
		return nil
	}
	root := r.tree(text)
	if root == nil {
		return nil
	}
	g := Grammar(Tables{Promises: lang.Promises}) // what a filter says stays as it is
	f := formatter{}
	f.lines(root, &g, 0, 0)
	return []byte(f.out.String())
}

type formatter struct{ out strings.Builder }

// formatWidth is where a list or mapping in brackets breaks into lines, in
// characters.
const formatWidth = 100

// The levels to which mappings, and lists of mappings, always stand in lines:
// the spec is level 0, its blocks 1, a way 2, the filters of a way 3.
const (
	mappingsInLines = 2
	listsInLines    = 3
	deepest         = maxNesting // no level where anything always does
)

// lines writes the entries of a list or mapping, each on its own line that
// begins behind indent spaces.
func (f *formatter) lines(n *node, t *Type, level, indent int) {
	margin := strings.Repeat(" ", indent)
	for _, i := range n.items {
		below := t.under("")
		one := "- " + inBrackets(i, below)
		// A filter is one key, its kind; any other mapping goes into brackets.
		if i.shape != mapping || len(i.entries) != 1 && indent+utf8.RuneCountInString(one) <= formatWidth {
			f.out.WriteString(margin + "-")
			f.value(i, below, deepest, indent+2, indent+1)
			continue
		}
		dash := "- "
		for _, e := range below.ordered(i.entries) {
			f.out.WriteString(margin + dash + e.key + ":")
			f.value(e.value, below.under(e.key), level+2, indent+4, indent+len(dash+e.key+":"))
			dash = "  "
		}
	}
	for _, e := range t.ordered(n.entries) {
		f.out.WriteString(margin + e.key + ":")
		f.value(e.value, t.under(e.key), level+1, indent+2, indent+len(e.key)+1)
	}
}

// value writes what stands behind a colon or a dash, where column characters
// are taken.
func (f *formatter) value(n *node, t *Type, level, indent, column int) {
	if n.shape == scalar {
		f.out.WriteString(" " + bare(n, ",()") + "\n")
		return
	}
	if one := inBrackets(n, t); len(n.items)+len(n.entries) == 0 ||
		!n.opened(level) && column+1+utf8.RuneCountInString(one) <= formatWidth {
		f.out.WriteString(" " + one + "\n")
		return
	}
	f.out.WriteString("\n")
	f.lines(n, t, level, indent)
}

// opened reports whether a list or mapping stands in lines however short.
func (n *node) opened(level int) bool {
	if n.shape == mapping {
		return level <= mappingsInLines
	}
	return level <= listsInLines && slices.ContainsFunc(n.items, func(i *node) bool { return i.shape == mapping })
}

// inBrackets is a value on one line.
func inBrackets(n *node, t *Type) string {
	var all []string
	switch n.shape {
	case listing:
		for _, i := range n.items {
			all = append(all, inBrackets(i, t.under("")))
		}
		return "[" + strings.Join(all, ", ") + "]"
	case mapping:
		for _, e := range t.ordered(n.entries) {
			all = append(all, e.key+": "+inBrackets(e.value, t.under(e.key)))
		}
		return "{" + strings.Join(all, ", ") + "}"
	}
	return bare(n, "")
}

// bare is a scalar, in quotes where YAML might read it as something else. It may
// hold more signs, in brackets none, without quotes.
func bare(n *node, more string) string {
	signs := ".+-_/% \u00b5\u03bc\u03a9\u2126" + more
	plain := n.text != "" && !strings.HasPrefix(n.text, " ") && !strings.HasSuffix(n.text, " ") && !strings.HasPrefix(n.text, "- ") &&
		n.text != "-" && !strings.HasPrefix(n.text, "---") && !strings.HasPrefix(n.text, "...") && !strings.HasPrefix(n.text, "%") && !strings.HasPrefix(n.text, ",")
	for _, c := range n.text {
		plain = plain && (c < utf8.RuneSelf && isWord(string(c)) || strings.ContainsRune(signs, c))
	}
	if plain && (!n.quotes || isText(n.text)) {
		return n.text
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(n.text) + `"`
}

// isText reports whether YAML reads a text without quotes as a text.
func isText(s string) bool {
	switch strings.ToLower(s) {
	case "null", "true", "false", "~":
		return false
	}
	return number(s) != len(s)
}

// under is the type below a key, or of a list's items; an empty one where the
// tables do not say.
func (t *Type) under(key string) *Type {
	for i := range t.Either {
		if u := t.Either[i].under(key); u.Keys != nil || u.Either != nil {
			return u
		}
	}
	for i := range t.Keys {
		if t.Keys[i].Name == key {
			return &t.Keys[i].Type
		}
	}
	switch {
	case t.List != nil && key == "":
		return t.List
	case t.Map != nil:
		return t.Map
	}
	return &Type{}
}

// ordered are a mapping's entries in the order of its key table, behind them
// those that it does not have, as they stand.
func (t *Type) ordered(entries []entry) []entry {
	place := func(key string) int {
		for i := range t.Either {
			if k := slices.Index(keyNames(t.Either[i].Keys), key); k >= 0 {
				return k
			}
		}
		if k := slices.Index(keyNames(t.Keys), key); k >= 0 {
			return k
		}
		return maxKeys
	}
	out := slices.Clone(entries)
	slices.SortStableFunc(out, func(a, b entry) int { return place(a.key) - place(b.key) })
	return out
}

func keyNames(keys []Key) []string {
	var out []string
	for _, k := range keys {
		out = append(out, k.Name)
	}
	return out
}

package language

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
)

// Longest texts that artefacts print.
const (
	maxText = 200
	maxName = 40
)

// scalar checks a single value.
func (w *walker) scalar(n *node, t *Type, h holder) *Value {
	v := &Value{Pos: n.at, Text: n.text, Given: true}
	text := n.text
	if slices.Contains(t.Words, text) {
		v.Word = text
		if text == "0" && len(t.Dims) > 0 {
			v.Dim = t.Dims[0]
		}
		return v
	}
	subject := h.name
	switch {
	case t.Text:
		if n.torn {
			w.fault(n.at, quoted(text)+" ends at its comma: in brackets a comma separates elements", "write a decimal point, or put the text in quotes")
			return nil
		}
		return w.text(v, cmp.Or(t.MaxLen, maxText))
	case t.Reference != "":
		if !isReference(text, t.Reference) {
			w.notReference(n.at, text, t.Reference)
			return nil
		}
		v.Word = text
		return v
	case t.Name, t.Stem:
		if !w.name(n.at, text, t) {
			return nil
		}
		v.Word = text
		return v
	case t.Files != nil:
		return w.fileName(v, t, h)
	case t.Range:
		return w.pair(v, text, t, h)
	case t.isWords():
		right := choices(t.Words)
		if s := t.meant(text); s != "" {
			right = "did you mean " + quoted(s) + "?"
		}
		w.fault(n.at, fmt.Sprintf("%s is not a choice of %s", quoted(text), subject), right)
		return nil
	}
	if n.quotes && len(t.Dims) == 0 {
		w.fault(n.at, fmt.Sprintf("%s is a plain number, not a text in quotes", subject), "write "+quoted(text))
		return nil
	}
	x, dim, ok := quantity(text, t.Dims)
	if !ok {
		p := explain(text, t, subject, h.example)
		w.fault(n.at, p.message, p.right)
		return nil
	}
	if t.Integer && x != math.Trunc(x) {
		w.fault(n.at, fmt.Sprintf("%s is not a whole number", quoted(text)), "it takes "+describe(t))
		return nil
	}
	if must := t.bounds(x, dim); must != "" {
		w.fault(n.at, fmt.Sprintf("%s is out of range for %s", quoted(text), subject), "it must be "+must)
		return nil
	}
	v.Number, v.Dim = x, dim
	return v
}

// meant is the word that a user most likely meant by text, "" if none is near.
func (t *Type) meant(text string) string {
	if w, ok := t.Meant[strings.ToLower(strings.TrimSpace(text))]; ok {
		return w
	}
	return Nearest(text, t.Words)
}

// pair checks "a to b".
func (w *walker) pair(v *Value, text string, t *Type, h holder) *Value {
	one := Type{Dims: t.Dims, Min: t.Min, Max: t.Max, Open: t.Open}
	low, high, found := strings.Cut(text, " to ")
	if !found {
		right := "write " + code(h.example)
		w.fault(v.Pos, fmt.Sprintf("%s is not two quantities joined by ` to `", quoted(text)), right)
		return nil
	}
	ends := [2]float64{}
	for i, end := range []string{low, high} {
		at := v.Pos
		if i == 1 {
			at.Col += len([]rune(low + " to "))
		}
		x, dim, ok := quantity(end, t.Dims)
		if !ok {
			p := explain(end, &one, "either end of "+h.name, unitExample(t))
			w.fault(at, p.message, p.right)
			return nil
		}
		if must := one.bounds(x, dim); must != "" {
			w.fault(at, fmt.Sprintf("%s is out of range for %s", quoted(end), h.name), "it must be "+must)
			return nil
		}
		ends[i] = x
		v.Dim = dim
	}
	if ends[0] >= ends[1] {
		w.fault(v.Pos, fmt.Sprintf("the lower end of %s is not below the upper one", h.name), "write the lower end first: "+quoted(h.example))
		return nil
	}
	v.Number, v.High = ends[0], ends[1]
	return v
}

// text checks a free text: one line of so many characters that every artefact can print.
func (w *walker) text(v *Value, longest int) *Value {
	at := v.Pos
	switch {
	case strings.TrimSpace(v.Text) == "":
		w.fault(at, "an empty text", "leave the key out, or write something")
		return nil
	case len([]rune(v.Text)) > longest:
		w.fault(at, fmt.Sprintf("a text of more than %d characters", longest), "shorten it")
		return nil
	}
	for _, c := range v.Text {
		if !unicode.IsGraphic(c) || c == unicode.ReplacementChar {
			w.fault(at, fmt.Sprintf("a text with the character U+%04X, which cannot be printed", c), "remove it")
			return nil
		}
	}
	v.Word = v.Text
	return v
}

// name checks an identifier.
func (w *walker) name(at Pos, s string, t *Type) bool {
	switch {
	case !isName(s, t.Stem):
		right := "a name is a letter a–z, then letters a–z, digits, `_` or `-`"
		if t.Stem {
			right = "a name is a letter a–z, then letters a–z, digits or `_`"
		}
		if fixed := asName(s, t.Stem); fixed != "" {
			right += ": " + quoted(fixed)
		}
		w.fault(at, quoted(s)+" is not a name", right)
	case len(s) > maxName:
		w.fault(at, fmt.Sprintf("a name of more than %d characters", maxName), "shorten it")
	case t.Stem && reserved(s):
		w.fault(at, quoted(s)+" is a reserved word of C or C++ and cannot be a name in a header", "choose another name, such as "+quoted(s+"_1"))
	default:
		return true
	}
	return false
}

// isName reports whether s is [a-z][a-z0-9_-]*, or with stem [a-z][a-z0-9_]*.
func isName(s string, stem bool) bool {
	const letters = "abcdefghijklmnopqrstuvwxyz"
	rest := letters + "0123456789_-"
	if stem {
		rest = letters + "0123456789_"
	}
	return s != "" && strings.Contains(letters, s[:1]) && strings.Trim(s, rest) == ""
}

// asName is a name near to s, "" where there is none.
func asName(s string, stem bool) string {
	var b strings.Builder
	for _, c := range strings.ToLower(s) {
		switch {
		case c >= 'a' && c <= 'z', b.Len() > 0 && (c >= '0' && c <= '9' || c == '_'), b.Len() > 0 && c == '-' && !stem:
			b.WriteRune(c)
		case b.Len() > 0 && (c == ' ' || c == '-' || c == '.'):
			b.WriteByte('_')
		default:
			return ""
		}
	}
	if fixed := b.String(); len(fixed) <= maxName && !reserved(fixed) {
		return fixed
	}
	return ""
}

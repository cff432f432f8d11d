package language

import (
	"strconv"
	"strings"
)

// describe is the type in a sentence: "a frequency (Hz, kHz or MHz)".
func describe(t *Type) string {
	if t.Either != nil {
		var all []string
		for i := range t.Either {
			if d := describe(&t.Either[i]); len(all) == 0 || all[len(all)-1] != d {
				all = append(all, d)
			}
		}
		return list(all, "or")
	}
	var d string
	switch {
	case t.Keys != nil, t.Map != nil, t.Parts != nil:
		return "a mapping: `key: value` lines indented below it, or `{key: value}`"
	case t.Range:
		d = "two quantities joined by ` to `, each " + oneOf(t.Dims)
	case len(t.Dims) > 0:
		var all []string
		for _, dim := range t.Dims {
			noun := nouns[dim]
			if u := unitsOf(dim); !strings.HasSuffix(noun, " "+u[0]) {
				noun += " (" + list(u, "or") + ")"
			}
			all = append(all, noun)
		}
		d = list(all, "or")
	case t.Integer && t.Min == t.Max && t.Min != 0:
		d = "only " + strconv.Itoa(int(t.Min))
	case t.Integer:
		d = "a whole number"
		if low, high := t.limits(); low == float64(int(low)) && high == float64(int(high)) {
			d += " from " + strconv.Itoa(int(low)) + " to " + strconv.Itoa(int(high))
		}
	case t.Number:
		d = "a plain number"
	case t.Text:
		return "a text on one line"
	case t.Name, t.Stem:
		return "a name"
	case t.Files != nil:
		return "the name of a file that ends in " + list(ticked(t.Files), "or")
	case t.Reference != "":
		return "a reference"
	case t.List != nil:
		return "a list in brackets, or lines that begin with `- `"
	case t.Filter:
		return "a filter: one key, its kind"
	case len(t.Words) == 1:
		return quoted(t.Words[0])
	default:
		return "one of " + list(ticked(t.Words), "or")
	}
	if len(t.Words) > 0 {
		d += " or " + list(ticked(t.Words), "or")
	}
	return d
}

// oneOf is dimensions in a sentence: "a time or a length".
func oneOf(dims []Dim) string {
	var all []string
	for _, d := range dims {
		all = append(all, nouns[d])
	}
	return list(all, "or")
}

// example is a value of the type as a user would write it, "" where the type
// alone does not tell.
func (t *Type) example() string {
	switch {
	case t.Either != nil:
		return t.Either[0].example()
	case len(t.Dims) > 0 && !t.Range:
		return unitExample(t)
	case t.Keys != nil:
		var fields []string
		for _, k := range t.Keys {
			if (k.Required || len(t.AnyOf) > 0 && k.Name == t.AnyOf[0]) && k.Example != "" {
				fields = append(fields, k.Name+": "+k.Example)
			}
		}
		if len(fields) > 0 {
			return "{" + strings.Join(fields, ", ") + "}"
		}
	}
	return ""
}

// unitExample is a quantity inside the type's range, "" where 1, 10, 100 and
// 0.1 are not.
func unitExample(t *Type) string {
	for _, text := range []string{"1", "10", "100", "0.1"} {
		for _, u := range unitsOf(t.Dims...) {
			s := text + " " + u
			if x, dim, ok := quantity(s, t.Dims); ok && t.bounds(x, dim) == "" {
				return s
			}
		}
	}
	return ""
}

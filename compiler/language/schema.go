package language

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"bandwright/compiler/words"
)

// Schema is the language as a JSON Schema (draft 2020-12), made from the same
// tables that Parse checks by, so that an editor completes and explains keys
// while a spec is written. It is deterministic.
//
// It refuses what is wrong with the keys, shapes, words, numbers and units of
// a file. Left to Parse is what a schema cannot say: how large a quantity may
// be, since its number and unit are one text; names that must exist elsewhere
// in the file; and what has become of a slip by the time that YAML has read
// it, such as a key given twice.
func Schema(lang Tables) []byte {
	root := Grammar(lang)
	return lang.schema(&root, "Bandwright spec",
		"The crossovers and equalisers of an active loudspeaker. Every quantity carries its unit: `22 Hz`, `-3 dB`, `0.09 ms`.")
}

// HeldSchema is the file of a held board as a JSON Schema, as Schema is of a spec.
func HeldSchema(lang Tables) []byte {
	root := heldGrammar(lang)
	return lang.schema(&root, "Bandwright held board",
		"A board as it is laid out, for the spec whose `board.held` names the file. `bandwright hold` writes it; values may be edited.")
}

// schema is the schema of a whole file.
func (l Tables) schema(root *Type, title, about string) []byte {
	s := schema{lang: l, named: map[string]bool{}}
	out := object{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"title", title},
		{"description", about},
	}
	out = append(out, s.of(root)...)
	s.share(out)
	slices.SortFunc(s.defs, func(a, b member) int { return strings.Compare(a.key, b.key) })
	out = append(out, member{"$defs", s.defs})
	return append(words.JSON{Width: 120, Indent: 2, Tables: true}.LayOut([]byte(flat(out))), '\n')
}

// schema collects what the schemas of the types refer to.
type schema struct {
	lang  Tables
	defs  object
	named map[string]bool
}

// define adds a definition once and returns the reference to it.
func (s *schema) define(name string, build func() object) object {
	if !s.named[name] {
		s.named[name] = true
		s.defs = append(s.defs, member{name, build()})
	}
	return object{{"$ref", "#/$defs/" + name}}
}

// worthSharing is the length, in characters, from which a property that stands
// in several places is worth a definition.
const worthSharing = 160

// share replaces the properties that several kinds of filter have alike by
// references to one definition each.
func (s *schema) share(root object) {
	count := map[string]int{}
	properties(root, func(m *member) { count[flat(m.value)]++ })
	for _, d := range s.defs {
		properties(d.value, func(m *member) { count[flat(m.value)]++ })
	}
	taken := map[string]string{} // a property's text → its definition
	replace := func(m *member) {
		text := flat(m.value)
		if count[text] < 2 || len(text) < worthSharing {
			return
		}
		name, there := taken[text]
		for n := 1; !there; n++ {
			name = "key-" + m.key
			if n > 1 {
				name += "-" + strconv.Itoa(n)
			}
			if there = !s.named[name]; there {
				taken[text] = name
				s.define(name, func() object { return m.value.(object) })
			}
		}
		m.value = object{{"$ref", "#/$defs/" + name}}
	}
	properties(root, replace)
	for i := range s.defs {
		properties(s.defs[i].value, replace)
	}
}

// properties calls f with every property in a schema, before those inside it.
func properties(v any, f func(*member)) {
	switch v := v.(type) {
	case []any:
		for _, x := range v {
			properties(x, f)
		}
	case object:
		for i := range v {
			if table, ok := v[i].value.(object); ok && v[i].key == "properties" {
				for k := range table {
					f(&table[k])
				}
			}
			properties(v[i].value, f)
		}
	}
}

// of is the schema of a type.
func (s *schema) of(t *Type) object {
	switch {
	case t.Either != nil:
		var any []any
		for i := range t.Either {
			any = append(any, s.of(&t.Either[i]))
		}
		return object{{"anyOf", any}}
	case t.List != nil:
		return counted(object{{"type", "array"}, {"items", s.of(t.List)}}, "Items", t)
	case t.Map != nil:
		o := object{{"type", "object"}, {"additionalProperties", s.of(t.Map)}}
		if t.Name {
			o = append(o, member{"propertyNames", identifierOf(t)})
		}
		return counted(o, "Properties", t)
	case t.Filter:
		return s.define("filter", func() object { return s.filters() })
	case t.Parts != nil:
		return s.parts(t)
	case t.Keys != nil:
		return s.mapping(t)
	}
	var plain object
	switch {
	case len(t.Dims) > 0:
		plain = s.quantity(t)
	case t.Integer && t.Min == t.Max && t.Min != 0:
		plain = object{{"const", t.Min}}
	case t.Integer, t.Number:
		plain = numeric(t)
	case t.Text:
		// YAML has read a text such as 2 or true as something else.
		plain = object{{"type", []any{"string", "number", "boolean"}}, {"pattern", `\S`}, {"maxLength", float64(cmp.Or(t.MaxLen, maxText))}}
	case t.Reference != "":
		plain = object{{"type", "string"}, {"pattern", referencePattern(t.Reference)}}
	case t.Name, t.Stem:
		plain = identifierOf(t)
	case t.Files != nil:
		plain = fileOf(t)
	}
	if len(t.Words) == 0 {
		return plain
	}
	var words []any
	for _, w := range t.Words {
		words = append(words, asJSON(&node{shape: scalar, text: w}))
	}
	if plain == nil {
		return object{{"enum", words}}
	}
	return object{{"anyOf", []any{plain, object{{"enum", words}}}}}
}

// counted adds the limits on the number of items or properties.
func counted(o object, what string, t *Type) object {
	if t.MinLen > 0 {
		o = append(o, member{"min" + what, float64(t.MinLen)})
	}
	if t.MaxLen > 0 {
		o = append(o, member{"max" + what, float64(t.MaxLen)})
	}
	return o
}

// mapping is the schema of a key table.
func (s *schema) mapping(t *Type) object {
	var properties object
	var required []any
	for i := range t.Keys {
		k := &t.Keys[i]
		properties = append(properties, member{k.Name, s.key(k)})
		if k.Required {
			required = append(required, k.Name)
		}
	}
	o := object{{"type", "object"}, {"properties", properties}}
	if required != nil {
		o = append(o, member{"required", required})
	}
	if len(t.AnyOf) > 0 {
		var some []any
		for _, name := range t.AnyOf {
			some = append(some, object{{"required", []any{name}}})
		}
		o = append(o, member{"anyOf", some})
	}
	return append(o, member{"additionalProperties", false})
}

// parts is the schema of a mapping with references as keys.
func (s *schema) parts(t *Type) object {
	var patterns object
	for i := range t.Parts {
		p := &t.Parts[i]
		patterns = append(patterns, member{referencePattern(p.Letter), s.of(&p.Type)})
	}
	return object{{"type", "object"}, {"patternProperties", patterns}, {"additionalProperties", false}}
}

// referencePattern is the form of a reference as a regular expression.
func referencePattern(letters string) string {
	if letters == opAmpLetter {
		return "^U[1-9][0-9]{2,}[A-D]?$"
	}
	if letters == selectorLetter {
		return "^S[1-9][0-9]*[A-Z]*$"
	}
	return "^[" + letters + "][1-9][0-9]{2,}$"
}

// key is the schema of a key's value with what an editor shows beside it.
func (s *schema) key(k *Key) object {
	o := append(object{{"description", s.sentences(k)}}, s.of(&k.Type)...)
	if k.Default != "" {
		o = append(o, member{"default", literal(k.Default)})
	}
	if k.Example != "" {
		o = append(o, member{"examples", []any{literal(k.Example)}})
	}
	return o
}

// sentences are a key's doc and, where it does not say so itself, how its
// value is written and what its words mean.
func (s *schema) sentences(k *Key) string {
	doc := k.Doc
	t := &k.Type
	if t.List != nil {
		t = t.List
	}
	// A doc with figures in it has said both.
	if len(t.Dims) > 0 && !strings.ContainsAny(k.Doc, "0123456789") {
		doc += " Takes " + describe(t)
		if must := t.span(); must != "" {
			doc += ", " + must
		}
		doc += "."
	}
	for _, table := range [][]Named{s.lang.Methods, s.lang.Formats} {
		if len(table) == 0 || !slices.Equal(t.Words, names(table)) {
			continue
		}
		for _, c := range table {
			doc += "\n\n`" + c.Name + "`: " + c.Doc + "."
		}
	}
	return doc
}

// span is the bounds in words, "" where there are none or, with several
// dimensions, no unit to say them in.
func (t *Type) span() string {
	if len(t.Dims) != 1 {
		return ""
	}
	if must := t.bounds(math.Inf(1), t.Dims[0]); must != "" {
		return must
	}
	return t.bounds(math.Inf(-1), t.Dims[0])
}

// filters is the schema of a filter: exactly one key, its kind.
func (s *schema) filters() object {
	var kinds object
	for i := range s.lang.Kinds {
		k := &s.lang.Kinds[i]
		t := k.arguments(s.lang)
		of := s.mapping(&t)
		for j := range k.Keys {
			if bare := &k.Keys[j]; bare.Name == k.Bare {
				of = object{{"anyOf", []any{of, s.of(&bare.Type)}}}
			}
		}
		o := append(object{{"description", k.Doc}}, of...)
		_, example, _ := strings.Cut(k.example(), ": ")
		if example != "" {
			o = append(o, member{"examples", []any{literal(example)}})
		}
		kinds = append(kinds, member{k.Name, o})
	}
	return object{
		{"description", "A filter: one key, its kind."},
		{"type", "object"}, {"properties", kinds},
		{"minProperties", 1.0}, {"maxProperties", 1.0}, {"additionalProperties", false},
	}
}

// The number grammar (see number) and the space that may stand before a unit
// (see quantity), as regular expressions that Go and ECMA 262 read alike.
const (
	numberPattern = `[+-]?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?`
	spacePattern  = "[ \u00a0]?"
)

// quantity is the reference to the text of a number and a unit, or of two of
// them with ` to ` between.
func (s *schema) quantity(t *Type) object {
	var name []string
	for _, d := range t.Dims {
		name = append(name, string(d))
	}
	def := strings.ReplaceAll(strings.Join(name, " or "), " ", "-")
	if t.Range {
		def += "-range"
	}
	return s.define(def, func() object {
		var units []string
		for _, u := range unitsOf(t.Dims...) {
			units = append(units, spellings(u))
		}
		pattern := numberPattern + spacePattern + "(" + strings.Join(units, "|") + ")"
		plain := Type{Dims: t.Dims, Range: t.Range}
		wanted, example := describe(&plain), unitExample(&plain)
		if t.Range {
			pattern += " to " + pattern
			example += " to " + unitExample(&Type{Dims: t.Dims, Min: 10})
		}
		return object{
			{"description", strings.ToUpper(wanted[:1]) + wanted[1:] + "."},
			{"type", "string"}, {"pattern", "^" + pattern + "$"},
			// Editors show this in place of the pattern.
			{"patternErrorMessage", "write " + wanted + ", such as " + quoted(example)},
		}
	})
}

// spellings is a pattern for every way to write a unit (see letters).
func spellings(unit string) string {
	return strings.NewReplacer("u", "[u\u00b5\u03bc]", "ohm", "(ohm|\u03a9|\u2126)", "degC", "(deg|\u00b0)C", "rtHz", "(rt|\u221a)Hz", " ", "[ \u00b7]?").Replace(regexp.QuoteMeta(unit))
}

// numeric is the schema of a plain number with its bounds.
func numeric(t *Type) object {
	kind := "number"
	if t.Integer {
		kind = "integer"
	}
	o := object{{"type", kind}}
	low, high := t.limits()
	for _, b := range []struct {
		bound           float64
		closed, without string
	}{{low, "minimum", "exclusiveMinimum"}, {high, "maximum", "exclusiveMaximum"}} {
		word := b.closed
		if t.Open {
			word = b.without
		}
		if !math.IsInf(b.bound, 0) {
			o = append(o, member{word, b.bound})
		}
	}
	return o
}

// fileOf is the schema of the name of a file: no folder in it is . or .., or has no
// name.
func fileOf(t *Type) object {
	const folder = `(\.{0,2}[^./\\][^/\\]*|\.\.[^/\\]+)/`
	endings := regexp.QuoteMeta(t.Files[0])
	if len(t.Files) > 1 {
		var all []string
		for _, f := range t.Files {
			all = append(all, regexp.QuoteMeta(f))
		}
		endings = "(" + strings.Join(all, "|") + ")"
	}
	return object{{"type", "string"}, {"maxLength", float64(maxPath)}, {"pattern", "^(" + folder + `)*[^/\\]*` + endings + "$"}}
}

// identifierOf is the schema of a name.
func identifierOf(t *Type) object {
	if !t.Stem { // which may be true, and a boolean to YAML
		return object{{"type", []any{"string", "boolean"}}, {"maxLength", float64(maxName)}, {"pattern", "^[a-z][a-z0-9_-]*$"}}
	}
	var words []any
	for _, w := range strings.Fields(reservedWords) {
		words = append(words, w)
	}
	return object{{"type", "string"}, {"maxLength", float64(maxName)}, {"pattern", "^[a-z][a-z0-9_]*$"}, {"not", object{{"enum", words}}}}
}

package language_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	yaml "github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"bandwright/compiler/grammar"
	"bandwright/compiler/language"
)

// compiled is a schema as an independent implementation of JSON Schema reads
// it, after it has judged the schema itself by the draft's own.
func compiled(t testing.TB, schema []byte) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("spec.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("spec.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// files are the specs that a pattern finds, by path.
func files(t testing.TB, atLeast int, patterns ...string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, pattern := range patterns {
		paths, err := filepath.Glob(pattern)
		if err != nil || len(paths) == 0 {
			t.Fatalf("%s: %v %v", pattern, paths, err)
		}
		for _, p := range paths {
			if out[p], err = os.ReadFile(p); err != nil {
				t.Fatal(err)
			}
		}
	}
	if len(out) < atLeast {
		t.Fatalf("only %d specs in %v", len(out), patterns)
	}
	return out
}

// good are the specs that everyone may expect to be accepted: those that ship,
// those that tests compile, those that `bandwright new` writes, and the one in
// README.md.
func good(t testing.TB) map[string][]byte {
	out := files(t, 12, "../../specs/*.yaml", "../testdata/good/*.yaml", "../../cmd/bandwright/starters/*.yaml")
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for i, block := range regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllSubmatch(readme, -1) {
		if bytes.Contains(block[1], []byte("bandwright: 1")) {
			out[fmt.Sprintf("README.md, block %d", i)] = block[1]
		}
	}
	return out
}

// asEditors is a file as an editor hands it to a schema: what a YAML library
// makes of it.
func asEditors(t testing.TB, src []byte) any {
	t.Helper()
	var v any
	if err := yaml.Unmarshal(src, &v); err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	if v, err = jsonschema.UnmarshalJSON(bytes.NewReader(text)); err != nil {
		t.Fatal(err)
	}
	return v
}

func TestSchemaAcceptsGoodSpecs(t *testing.T) {
	s := compiled(t, language.Schema(grammar.Language()))
	for path, src := range good(t) {
		v, ok := language.Instance(src)
		if !ok {
			t.Errorf("%s cannot be read", path)
			continue
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%s: %v", path, err)
		}
		if err := s.Validate(asEditors(t, src)); err != nil {
			t.Errorf("%s, as editors read it: %v", path, err)
		}
	}
}

// beyondJSON are the specs of bad grammar whose fault a schema cannot see, with
// the reason. Each of the others it must refuse.
var beyondJSON = map[string]string{
	"empty":          "nothing that could be judged",
	"duplicate-keys": "an object has each key once",

	"alias-bomb": notYAML, "anchor-in-itself": notYAML, "block-text": notYAML, "control-character": notYAML,
	"folded-title": notYAML, "item-among-keys": notYAML, "key-among-items": notYAML, "key-without-colon": notYAML,
	"list-on-key-line": notYAML, "merge-key": notYAML, "minus-sign-apart": notYAML, "misaligned-key": notYAML,
	"missing-comma": notYAML, "nested-too-deep": notYAML, "no-space-after-colon": notYAML, "pair-in-brackets": notYAML,
	"reserved-sign": notYAML, "second-colon": notYAML, "second-document": notYAML, "tab-indentation": notYAML,
	"tag": notYAML, "unclosed-bracket": notYAML, "unclosed-quotes": notYAML, "unknown-anchor": notYAML,
	"value-and-keys": notYAML, "wrong-bracket": notYAML,
}

const notYAML = "not YAML, or a part of YAML that specs do without: there is no value to judge"

func TestSchemaRefusesBadGrammar(t *testing.T) {
	s := compiled(t, language.Schema(grammar.Language()))
	refused := 0
	for path, src := range files(t, 80, "../../specs/bad/*.yaml") {
		if !bytes.HasPrefix(src, []byte("# grammar\n")) {
			continue
		}
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		_, excused := beyondJSON[name]
		v, ok := language.Instance(src)
		switch {
		case ok && excused:
			t.Errorf("%s: there is a value to judge: %v", name, s.Validate(v))
		case !ok && !excused:
			t.Errorf("%s: there is no value to judge", name)
		case ok && s.Validate(v) == nil:
			t.Errorf("%s: the schema accepts it", name)
		case ok:
			refused++
		}
	}
	if refused < 30 {
		t.Errorf("only %d specs were refused", refused)
	}
	t.Logf("%d specs refused", refused)
}

// texts are scalars of every kind, right and wrong, as they may stand in a file.
// Not among them is what YAML makes the same of: -0 is 0 to a schema, where 0
// may stand as a word, and a word such as 0 in quotes is none.
var texts = []string{
	"0", "1", "-1", "+1", "2", "4", "4.0", "2.5", "0.7", "1e1", "1E-1", "1e+1", "1e0001", "00", "01", ".5", "5.", "1_0", "1,5",
	"0x10", "0o7", "1e999", "1e-999", ".inf", ".nan", "inf", "-inf", "nan", "Infinity", "null", "~", `""`, `" "`,
	"true", "false", "True", "yes", "off", "on", "none", "all-pass", "exact", "complete", "left", "right", "normal", "inverted",
	"butterworth", "LR", "lr", "bilinear", "fit", "float32", "q31", "magnitude",
	"1 Hz", "1Hz", "1  Hz", "1\u00a0Hz", "1 \u00a0Hz", "1 kHz", "1 KHz", "1 khz", "1 mHz", "1 MHz", "1k", "1 k", "1k5", "-1 Hz", "+1 Hz", "1e3 Hz", "1 Hz ", " 1 Hz",
	"1 Hz.", "Hz", "1 2 Hz", "01 Hz", ".5 Hz", "1. Hz", "1,5 Hz", "1_000 Hz", "\u22121 Hz", "1e999 Hz", "1e1234 Hz", "\"1 Hz\"", "'1 Hz'",
	"-3 dB", "1 dB", "0 dB", "1dB", "1 db", "1 dBu", "1 dB\u00b5", "-110 dBFS", "-110 dBfs", "5 deg", "5 °", "1 ms", "1 us", "1 \u00b5s", "1 \u03bcs", "1 s", "1 sec",
	"31 mm", "3.1 cm", "1 m", "1 km", "1 ohm", "1 kohm", "1 k\u03a9", "1 k\u2126", "99 %", "1 uF", "1 T m", "1 T\u00b7m", "1 Tm", "1 T  m", "1 N s/m", "1 Ns/m", "1 N/A", "340 cm2", "1 m2", "1 M2", "1 dm3", "5 nV/\u221aHz", "5 fA/rtHz", "30 \u00b0C", "30 ppm/\u00b0C", "30 ppm/degC", "-30 ppm/K", "60 \u00b5m/N",
	"20 Hz to 20 kHz", "20Hz to 20kHz", "20 to 20 kHz", "20 Hz - 20 kHz", "20 Hz to", "1 Hz to 2 Hz to 3 Hz", "2 kHz to 2 kHz", "20 Hz  to 20 kHz", "1 s to 2 s",
	"\"1\"", "\"4\"", "\"inf\"", "a", "heron", "heron-2", "heron_2", "Heron", "2heron", "h\u00e9ron", "int", "heron, the second", "\"a: b\"",
	"averyverylongname_averyverylongname_longer", "R10201", "r10201", "R102", "R10", "R01", "R10201A", "C10201", "U101A", "U101E", "U101", "U1A", "S103", "S0103", "X10201", "[]", "{}", "[1]", "[1 Hz]", "[a, b]", "{a: 1}", "{at: 1 Hz}", "{peak: {}}",
}

// excused are faults of the grammar that a schema cannot find, by their words:
// it compares texts, not the numbers and units in them, and does not see the
// commas between them. A plain number's range
// it knows.
var excused = []string{"is out of range", "is too large or too small", "is not below the upper one", "ends at its comma", "is ambiguous: one value or two"}

// TestSchemaAgrees puts every text at every key of the grammar, leaves out
// every key and adds one, and demands that the schema says yes where the parser
// finds no fault, and no where it finds one.
func TestSchemaAgrees(t *testing.T) {
	lang := grammar.Language()
	agrees(t, language.Grammar(lang), language.Schema(lang), 1000, 5000)
}

// The same of held boards.
func TestHeldSchemaAgrees(t *testing.T) {
	lang := grammar.Language()
	agrees(t, language.HeldGrammar(lang), language.HeldSchema(lang), 100, 2000)
	s := compiled(t, language.HeldSchema(lang))
	if err := s.Validate(asEditors(t, heldSample(t))); err != nil {
		t.Error(err)
	}
}

// agrees holds a schema against the grammar that it was made of; at least so many files
// have to be accepted and refused.
func agrees(t *testing.T, root language.Type, schema []byte, accepted, refused int) {
	lang := grammar.Language()
	s := compiled(t, schema)
	yes, no := 0, 0
	probe := prober{lang: lang, done: map[string]bool{}}
	probe.try = func(src string) {
		v, ok := language.Instance([]byte(src))
		if !ok {
			return
		}
		faults := language.Walk([]byte(src), root, lang)
		all := len(faults)
		faults = slices.DeleteFunc(faults, func(f language.Fault) bool {
			return slices.ContainsFunc(excused, func(e string) bool { return strings.Contains(f.Message, e) })
		})
		err := s.Validate(v)
		switch {
		case all > 0 && len(faults) == 0: // it may see this or not
		case (err == nil) != (all == 0):
			t.Errorf("%s\nthe parser says %v\nthe schema says %v", src, faults, err)
		case err == nil:
			yes++
		default:
			no++
		}
	}
	probe.of(&root, func(v string) string { return v })
	t.Logf("%d files accepted, %d refused", yes, no)
	if yes < accepted || no < refused {
		t.Errorf("%d files accepted, %d refused: the test does not test", yes, no)
	}
}

// prober makes documents and tries each. A key that several mappings have alike
// is probed in the first of them, and a type of scalars in full at the first of
// its keys.
type prober struct {
	lang language.Tables
	try  func(src string)
	done map[string]bool // types, and keys by name and doc
}

// of tries documents that hold a value of the type, right or wrong, where wrap
// puts it.
func (p *prober) of(t *language.Type, wrap func(string) string) {
	try, lang := p.try, p.lang
	alike := *t // one schema is made of all such types
	alike.List, alike.Keys, alike.Map, alike.Parts, alike.Either = nil, nil, nil, nil, nil
	text := fmt.Sprintf("%+v", alike)
	for i, v := range texts {
		if !p.done[text] || i%10 == 0 {
			try(wrap(v))
		}
	}
	p.done[text] = true
	for i := range t.Either {
		p.of(&t.Either[i], wrap)
	}
	switch {
	case t.Keys != nil:
		p.keys(t, wrap)
	case t.List != nil:
		p.of(t.List, func(v string) string {
			return wrap("[" + strings.Join(slices.Repeat([]string{v}, max(1, t.MinLen)), ", ") + "]")
		})
		for _, n := range []int{0, 1, 2, 3, t.MaxLen, t.MaxLen + 1} {
			try(wrap("[" + strings.Join(slices.Repeat([]string{sample(t.List, lang)}, n), ", ") + "]"))
		}
	case t.Map != nil:
		named := func(n int, v string) string {
			var b strings.Builder
			for i := range n {
				fmt.Fprintf(&b, "n%d: %s, ", i, v)
			}
			return wrap("{" + strings.TrimSuffix(b.String(), ", ") + "}")
		}
		p.of(t.Map, func(v string) string { return named(max(1, t.MinLen), v) })
		for _, n := range []int{0, 1, 2, t.MaxLen, t.MaxLen + 1} {
			try(named(n, sample(t.Map, lang)))
		}
		for _, name := range texts {
			if !strings.ContainsAny(name, "[]{},:\"'") {
				try(wrap("{" + name + ": " + sample(t.Map, lang) + "}"))
			}
		}
	case t.Parts != nil:
		for i := range t.Parts {
			of := &t.Parts[i]
			p.of(&of.Type, func(v string) string { return wrap("{" + of.Letter + "10201: " + v + "}") })
			for _, name := range texts {
				if !strings.ContainsAny(name, "[]{},:\"'") {
					try(wrap("{" + name + ": " + sample(&of.Type, lang) + "}"))
				}
			}
		}
	case t.Filter:
		for _, k := range lang.Kinds {
			p.of(language.Arguments(k, lang), func(v string) string { return wrap("{" + k.Name + ": " + v + "}") })
		}
		try(wrap("{tilt: {at: 1 kHz}}"))
		try(wrap("{gain: {by: 1 dB}, delay: {by: 1 ms}}"))
	}
}

// keys probes each key of a mapping beside the required ones, and what is left
// without the first of those that may stand for each other.
func (p *prober) keys(t *language.Type, wrap func(string) string) {
	keys := t.Keys
	with := func(key, value string) string {
		var all []string
		for _, k := range keys {
			stands := len(t.AnyOf) > 0 && k.Name == t.AnyOf[0] && !slices.Contains(t.AnyOf, key)
			if (k.Required || stands) && k.Name != key {
				all = append(all, k.Name+": "+k.Example)
			}
		}
		if value != "" {
			all = append(all, key+": "+value)
		}
		return wrap("{" + strings.Join(all, ", ") + "}")
	}
	p.try(with("", ""))
	p.try(with("tilt", "1"))
	if len(t.AnyOf) > 0 {
		p.try(with(t.AnyOf[0], ""))
	}
	for i := range keys {
		k := &keys[i]
		p.try(with(k.Name, ""))
		p.try(with(k.Name, k.Example))
		if k.Default != "" {
			p.try(with(k.Name, k.Default))
		}
		if !p.done[k.Name+k.Doc] {
			p.done[k.Name+k.Doc] = true
			p.of(&k.Type, func(v string) string { return with(k.Name, v) })
		}
	}
}

// sample is a value that the type accepts.
func sample(t *language.Type, lang language.Tables) string {
	switch {
	case t.Either != nil:
		return sample(&t.Either[0], lang)
	case t.Filter:
		return "{gain: {by: 1 dB}}"
	case t.Keys != nil:
		var all []string
		for _, k := range t.Keys {
			if k.Required {
				all = append(all, k.Name+": "+k.Example)
			}
		}
		return "{" + strings.Join(all, ", ") + "}"
	case t.List != nil:
		return "[" + strings.Join(slices.Repeat([]string{sample(t.List, lang)}, max(1, t.MinLen)), ", ") + "]"
	case len(t.Dims) > 0:
		if u := map[language.Dim]string{language.Resistance: "kohm", language.Capacitance: "nF"}[t.Dims[0]]; u != "" {
			return "10 " + u
		}
		return "10 kHz"
	case t.Reference != "":
		return t.Reference[:1] + "10201"
	case t.Parts != nil:
		return "{}"
	case t.Number:
		return "1"
	case len(t.Words) > 0:
		return t.Words[0]
	}
	return "a"
}

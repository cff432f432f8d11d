package language_test

import (
	"bytes"
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler/grammar"
	"bandwright/compiler/language"
)

// bareSpec is a spec without what a layout may change: places, the source, and
// the order of keys.
func bareSpec(s *language.Spec) *language.Spec {
	s.Source, s.File = nil, ""
	strip(reflect.ValueOf(s).Elem())
	return s
}

func strip(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			strip(v.Elem())
		}
	case reflect.Slice:
		if fields, ok := v.Interface().([]language.Field); ok {
			slices.SortFunc(fields, func(a, b language.Field) int { return cmp.Compare(a.Key, b.Key) })
		}
		for i := range v.Len() {
			strip(v.Index(i))
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[language.Pos]() {
			v.SetZero()
			return
		}
		for i := range v.NumField() {
			strip(v.Field(i))
		}
	}
}

// checkFormat demands that a spec's canonical text means the same and is its
// own canonical text. It may be refused only where aliases made it too long.
func checkFormat(t *testing.T, s *language.Spec, lang language.Tables) {
	t.Helper()
	source := s.Source
	text := language.Format(s, lang)
	again, faults := language.Parse("formatted", text, lang)
	if again == nil {
		for _, f := range faults {
			if bytes.ContainsRune(source, '*') && strings.Contains(f.Message, "more than") {
				return
			}
		}
		t.Fatalf("%s\nbecomes\n%s\nwhich is refused: %v", source, text, faults)
	}
	if twice := language.Format(again, lang); !bytes.Equal(twice, text) {
		t.Fatalf("%s\nformatted twice is\n%s", text, twice)
	}
	a, b := bareSpec(s), bareSpec(again)
	if !reflect.DeepEqual(a, b) {
		t.Fatalf("%s\nbecomes\n%s\nwhich means something else:\n%s", source, text, difference(a, b))
	}
}

// difference is the first field of two specs that differs.
func difference(a, b *language.Spec) string {
	x, y := reflect.ValueOf(*a), reflect.ValueOf(*b)
	for i := range x.NumField() {
		if !reflect.DeepEqual(x.Field(i).Interface(), y.Field(i).Interface()) {
			return fmt.Sprintf("%s: %+v\n%+v", x.Type().Field(i).Name, x.Field(i).Interface(), y.Field(i).Interface())
		}
	}
	return ""
}

// awkward are specs whose values need care in another layout.
var awkward = []string{
	"{bandwright: 1, name: x, title: \"a: b # c, d\", revision: 'null', ways: {\"null\": {}, true: {}}, digital: {rates: [48 kHz], formats: [float32]}}",
	"{bandwright: 1.0, name: x, title: \"\\\"q\\\" \\\\ 'q'\", revision: \"1.0\", ways: {w: {filters: [], gain: \"-1 dB\"}}, digital: {rates: [\"48 kHz\", 4.41e4\u00a0Hz], formats: [float32]}}",
	"{bandwright: 1, name: x, title: \"- a\", revision: \" a \", ways: {w: {}}, digital: {rates: [48 kHz], formats: [float32], section-by-section: \"true\"}}",
	"{bandwright: 1, name: x, title: \"[a]\", revision: \"&a\", settings: {s: [+1, -1, \" a\", yes, \"true\"]}, common: &c [{gain: {by: 1 dB, when: {s: [yes, +1]}}}], ways: {w: {}}, digital: {rates: [48 kHz], formats: [float32]}}",
	"bandwright: 1\nname: x\nways:\n  w: &w {filters: &f [{roots: {zeros: [0, {at: 1 kHz, q: inf}, &z {at: 2 kHz, side: right}, *z], poles: [1 kHz, 1 kHz, 1 kHz, 1 kHz, 1 kHz, 1 kHz], unity-at: 0 Hz}}]}\n  v: {filters: *f}\n  u: *w\ndigital: {rates: [48 kHz], formats: [float32]}\n",
	"bandwright: 1\nname: x\nrevision: \"%a\"\ntitle: \"---\"\nways:\n  w: {}\ndigital: {rates: [48 kHz], formats: [float32]}\n",
}

func TestFormatKeepsMeaning(t *testing.T) {
	lang := grammar.Language()
	accepted := 0
	check := func(name string, src []byte) {
		if s, _ := language.Parse(name, src, lang); s != nil {
			accepted++
			checkFormat(t, s, lang)
		}
	}
	for name, src := range good(t) {
		check(name, src)
	}
	if n := len(good(t)); accepted != n {
		t.Errorf("%d of %d good specs accepted", accepted, n)
	}
	for i, src := range awkward {
		check(fmt.Sprint("awkward ", i), []byte(src))
	}
	if n := len(good(t)) + len(awkward); accepted != n {
		t.Errorf("%d of %d specs accepted", accepted, n)
	}
}

// The layout itself.
func TestFormatLayout(t *testing.T) {
	src := "digital: {formats: [float32], rates: [48 kHz], channels: 1}\nways: {b: {gain: -1 dB, filters: [{peak: {at: 1 kHz, gain: \"3 dB\", q: 2.50}}]}, a: {}}\n" +
		"crossovers:\n- at: 2 kHz\n  between: [b, a]\n  order: 4\n  family: LR\n# a comment\ntitle: 'A, b'\nname: x\nbandwright: 1\n"
	want := `bandwright: 1
name: x
title: A, b
ways:
  b:
    filters:
      - peak: {at: 1 kHz, gain: 3 dB, q: 2.50}
    gain: -1 dB
  a: {}
crossovers:
  - {between: [b, a], at: 2 kHz, order: 4, family: LR}
digital:
  rates: [48 kHz]
  formats: [float32]
  channels: 1
`
	s, faults := language.Parse("x", []byte(src), grammar.Language())
	if s == nil {
		t.Fatal(faults)
	}
	if got := string(language.Format(s, grammar.Language())); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// FuzzFormat demands of every spec that Parse accepts that its canonical text
// means the same.
func FuzzFormat(f *testing.F) {
	for _, src := range good(f) {
		f.Add(src)
	}
	for _, src := range awkward {
		f.Add([]byte(src))
	}
	lang := grammar.Language()
	f.Fuzz(func(t *testing.T, src []byte) {
		if s, _ := language.Parse("fuzz", src, lang); s != nil {
			checkFormat(t, s, lang)
		}
	})
}

package compare

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// A key that joins the language is compared without a line in this package: it
// says itself what it changes, which a test of package language demands.
func TestNewKeyIsCompared(t *testing.T) {
	lang := compiler.Language()
	lang.Kinds = slices.Clone(lang.Kinds)
	i := slices.IndexFunc(lang.Kinds, func(k language.Kind) bool { return k.Name == "peak" })
	lang.Kinds[i].Keys = append(slices.Clone(lang.Kinds[i].Keys), language.Key{Name: "tilt", Effect: language.Wanted,
		Type: language.Type{Dims: []language.Dim{language.Level}, Min: -6, Max: 6}, Doc: "Tilt, dB.", Example: "1 dB"})
	parse := func(src string) *language.Spec {
		s, faults := language.Parse("plover.yaml", []byte(src), lang)
		if s == nil {
			t.Fatal(faults)
		}
		return s
	}
	src := plover(t)
	was, now := parse(src), parse(replaced(t, src, "at: 92 Hz,", "at: 92 Hz, tilt: 2 dB,"))
	got := newDifference(was, now, lang).edits()
	if len(got) != 1 || got[0].said != "ways.bass.filters[1].tilt was added: 2 dB" || !got[0].wanted() {
		t.Errorf("%+v", got)
	}
}

// Every key of the language, of every table and of every form, is told where
// its value is another one, at its own place and with its own effect, and the
// old spec with that edit is the new one: nothing passes unseen.
func TestEveryKeyIsCompared(t *testing.T) {
	lang := compiler.Language()
	root := language.Grammar(lang)
	seen := map[string]bool{}
	var walk func(typ *language.Type, path string, effect language.Effect, wrap func(*language.Value) *language.Value)
	keys := func(typ *language.Type, path string, wrap func(*language.Value) *language.Value) {
		for _, k := range typ.Keys {
			if k.Name == "between" { // tells crossovers apart: another one is another crossover
				continue
			}
			at := strings.TrimPrefix(path+"."+k.Name, ".")
			walk(&k.Type, at, k.Effect, func(v *language.Value) *language.Value {
				m := mapping(typ, lang)
				m.Fields = slices.DeleteFunc(m.Fields, func(f language.Field) bool { return f.Key == k.Name })
				if v != nil {
					m.Fields = append(m.Fields, language.Field{Key: k.Name, Value: v})
				}
				return wrap(m)
			})
		}
	}
	walk = func(typ *language.Type, path string, effect language.Effect, wrap func(*language.Value) *language.Value) {
		switch {
		case typ.Keys != nil:
			keys(typ, path, wrap)
		case typ.Map != nil && typ.Map.Keys != nil:
			keys(typ.Map, path+".a", func(v *language.Value) *language.Value {
				return wrap(&language.Value{Fields: []language.Field{{Key: "a", Value: v}, {Key: "b", Value: mapping(typ.Map, lang)}}})
			})
		case typ.List != nil && typ.List.Filter:
			for _, k := range lang.Kinds {
				args := lang.Arguments(k.Name)
				keys(&args, path+"[0]", func(v *language.Value) *language.Value {
					return wrap(listOf(&language.Value{Fields: []language.Field{{Key: k.Name, Value: v}}}))
				})
			}
		case typ.By != "":
			for i := range typ.List.Either {
				keys(&typ.List.Either[i], path+"[0]", func(v *language.Value) *language.Value { return wrap(listOf(v)) })
			}
		case slices.ContainsFunc(typ.Either, func(e language.Type) bool { return e.Keys != nil }):
			for i := range typ.Either {
				keys(&typ.Either[i], path, wrap)
			}
		default:
			seen[path] = true
			if effect == 0 {
				t.Errorf("%s does not say what another value changes", path)
			}
			told(t, lang, path, effect, wrap(value(typ, 1, lang)), wrap(value(typ, 2, lang)))
			told(t, lang, path, effect, wrap(nil), wrap(value(typ, 2, lang)))
		}
	}
	walk(&root, "", 0, func(v *language.Value) *language.Value { return v })
	for _, path := range []string{"revision", "settings", "ways.a.gain", "crossovers[0].order", "crossovers[0].low.at", "common[0].when", "common[0].from.q",
		"promise.band", "board.resistors.stock", "board.resistors.series", "board.op-amp.swing", "digital.rates"} {
		if !seen[path] {
			t.Errorf("%s was not tried", path)
		}
	}
	t.Logf("%d places", len(seen))
	if len(seen) < 100 {
		t.Errorf("%d places tried", len(seen))
	}
}

// told demands that the one difference between two trees is an edit at path.
func told(t *testing.T, lang language.Tables, path string, effect language.Effect, old, new *language.Value) {
	t.Helper()
	d := newDifference(&language.Spec{Tree: old}, &language.Spec{Tree: new}, lang)
	got := d.edits()
	if len(got) == 0 {
		t.Errorf("%s may change, and nobody tells", path)
		return
	}
	for _, e := range got {
		if !strings.HasPrefix(e.path, path) || e.effect != effect {
			t.Errorf("%s, %b: told as %s, %b", path, effect, e.path, e.effect)
		}
	}
	if after := d.blend(func(edit) bool { return true }); path != "settings" && !alike(after, new) {
		t.Errorf("%s: with every edit the old spec is not the new one", path)
	}
}

func listOf(v *language.Value) *language.Value {
	return &language.Value{Given: true, Items: []*language.Value{v}}
}

// mapping holds the required keys of a table.
func mapping(typ *language.Type, lang language.Tables) *language.Value {
	v := &language.Value{Given: true, Fields: []language.Field{}}
	for _, k := range typ.Keys {
		if k.Required {
			v.Fields = append(v.Fields, language.Field{Key: k.Name, Value: value(&k.Type, 1, lang)})
		}
	}
	return v
}

// value is the n-th of some different values of a type.
func value(typ *language.Type, n int, lang language.Tables) *language.Value {
	v := &language.Value{Given: true, Text: fmt.Sprint("v", n)}
	switch {
	case typ.Either != nil:
		return value(&typ.Either[0], n, lang)
	case typ.Keys != nil:
		return mapping(typ, lang)
	case typ.Map != nil:
		name := "a"
		v.Fields = []language.Field{{Key: name, Value: value(typ.Map, n, lang)}}
		if typ.Map.Keys != nil {
			v.Fields = append(v.Fields, language.Field{Key: "b", Value: value(typ.Map, n, lang)})
		}
	case typ.List != nil && typ.MinLen == 2 && typ.List.Name: // two neighbouring ways
		return &language.Value{Items: []*language.Value{{Word: "a", Text: "a"}, {Word: "b", Text: "b"}}}
	case typ.List != nil:
		return listOf(value(typ.List, n, lang))
	case len(typ.Dims) > 0:
		v.Number, v.Dim, v.High = float64(n), typ.Dims[0], float64(n+1)
	case typ.Number || typ.Integer:
		v.Number = float64(n)
	default:
		v.Word = v.Text
	}
	return v
}

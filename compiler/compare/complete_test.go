package compare

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
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
	src := plover(t)
	got := between(t, lang, src, replaced(t, src, "at: 92 Hz,", "at: 92 Hz, tilt: 2 dB,")).edits()
	if len(got) != 1 || got[0].said != "ways.bass.filters[1].tilt was added: 2 dB" || !got[0].wanted() {
		t.Errorf("%+v", got)
	}
}

// between is the difference of two specs.
func between(t *testing.T, lang language.Tables, old, new string) *difference {
	t.Helper()
	parse := func(src string) *language.Spec {
		s, faults := language.Parse("x.yaml", []byte(src), lang)
		if s == nil {
			t.Fatal(faults)
		}
		return s
	}
	return newDifference(parse(old), parse(new), lang)
}

// What a list's order means is told where it means something, and nowhere else.
func TestOrder(t *testing.T) {
	lang := compiler.Language()
	src := replaced(t, plover(t), "[free, wall]", "[free, wall, corner]", "[96 kHz]", "[96 kHz, 48 kHz]", "when: {placement: wall}", "when: {placement: [wall, corner]}")
	for _, c := range []struct{ from, to, said string }{
		{"[free, wall, corner]", "[free, corner, wall]", "settings.placement went from [free, wall, corner] to [free, corner, wall]"},
		{"[96 kHz, 48 kHz]", "[48000 Hz, 96 kHz]", "digital.rates went from [96 kHz, 48 kHz] to [48000 Hz, 96 kHz]"},
		{"{placement: [wall, corner]}", "{placement: [corner, wall]}", ""},
		{"placement: [wall, corner]}", "placement: [wall]}", "common[1].when went from {placement: [wall, corner]} to {placement: [wall]}"},
	} {
		var said []string
		for _, e := range between(t, lang, src, replaced(t, src, c.from, c.to)).edits() {
			said = append(said, e.said)
		}
		if strings.Join(said, "; ") != c.said {
			t.Errorf("%q", said)
		}
	}
	one, listed := replaced(t, src, "[wall, corner]", "wall"), replaced(t, src, "[wall, corner]", "[wall]")
	if got := between(t, lang, one, listed).edits(); got != nil {
		t.Errorf("one choice in brackets: %v", got)
	}
}

// Between any two specs, all edits together make the new one, and none at all a
// spec with the ways of the old one that means something.
func TestBlendEnds(t *testing.T) {
	paths, err := filepath.Glob("../../specs/*.yaml")
	if err != nil || len(paths) < 5 {
		t.Fatal(paths, err)
	}
	var all []string
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, string(data))
	}
	for i, old := range all {
		for j, new := range all {
			d := between(t, compiler.Language(), old, new)
			if !alike(meaning(d.blend(func(edit) bool { return true })), meaning(d.new)) {
				t.Errorf("%s to %s: all edits are not the new spec", paths[i], paths[j])
			}
			back := d.prototype(func(edit) bool { return false })
			if back == nil || !slices.Equal(wayNames(back.Prototype), names(d.old.Get("ways"))) {
				t.Errorf("%s to %s: without an edit there is no old spec", paths[i], paths[j])
			}
		}
	}
}

// meaning is a spec without its settings, which a blend joins, and with each
// side of a crossover by itself.
func meaning(spec *language.Value) *language.Value {
	out := *spec
	out.Fields = nil
	for _, f := range spec.Fields {
		switch f.Key {
		case "settings":
			continue
		case "crossovers":
			v := &language.Value{Items: []*language.Value{}}
			for _, x := range f.Value.Items {
				v.Items = append(v.Items, language.Apart(x))
			}
			f.Value = v
		}
		out.Fields = append(out.Fields, f)
	}
	return &out
}

func wayNames(s biquad.System[biquad.Analog]) (out []string) {
	for _, w := range s.Ways {
		out = append(out, w.Name)
	}
	return out
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
			if typ.Range {
				wider := value(typ, 1, lang)
				wider.High++
				told(t, lang, path, effect, wrap(value(typ, 1, lang)), wrap(wider))
			}
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

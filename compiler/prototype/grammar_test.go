package prototype_test

import (
	"fmt"
	"strings"
	"testing"

	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
	"bandwright/compiler/prototype/prototypetest"
)

// parsedFilter is a filter's arguments as the real parser reads them.
func parsedFilter(t *testing.T, kind, mapping string) *language.Value {
	t.Helper()
	src := fmt.Sprintf("bandwright: 1\nname: x\nways: {w: {filters: [{%s: {%s}}]}}\ndigital: {rates: [48 kHz], formats: [f], method: m}\n", kind, mapping)
	s, faults := language.Parse("x.yaml", []byte(src), language.Tables{
		Kinds: prototype.Rows(), Methods: []language.Named{{Name: "m"}}, Formats: []language.Named{{Name: "f"}},
		LowPass: "low-pass", HighPass: "high-pass",
	})
	for _, f := range faults {
		t.Fatalf("%s: %s (right: %s)\n%s", kind, f.Message, f.Right, src)
	}
	return s.Ways[0].Filters[0].Args
}

// Every key's example is accepted by the grammar that users meet, with its
// required neighbours, and defaults arrive as the tests of this package assume.
func TestExamplesParse(t *testing.T) {
	for _, k := range prototype.Kinds {
		for _, key := range k.Keys {
			var parts []string
			for _, other := range k.Keys {
				if other.Required || other.Name == key.Name {
					parts = append(parts, other.Name+": "+other.Example)
				}
			}
			got := parsedFilter(t, k.Name, strings.Join(parts, ", "))
			if v := got.Get(key.Name); v == nil || !v.Given {
				t.Errorf("%s.%s: the example is lost: %+v", k.Name, key.Name, v)
			}
			ours := prototypetest.Args(k.Keys, given{})
			for _, f := range ours.Fields { // the defaults
				v := got.Get(f.Key)
				if v == nil || !v.Given && (v.Number != f.Value.Number || v.Word != f.Value.Word) {
					t.Errorf("%s.%s: the default arrives as %+v, want %+v", k.Name, f.Key, v, f.Value)
				}
			}
		}
	}
}

// The same filter by way of a file and by way of this package's own arguments,
// where lists, nested mappings, words and lengths are read.
func TestParsedIsBuilt(t *testing.T) {
	for _, c := range []struct {
		kind, mapping string
		g             given
	}{
		{"roots", "zeros: [0, 0 Hz, 3 kHz, {at: 5 kHz, q: inf}, {at: 100 Hz, side: right}], poles: [20.6 Hz, {at: 1 kHz, q: 0.7}, 30 Hz, 12 kHz, 15 kHz], unity-at: inf", given{
			"zeros":    []any{0.0, 0.0, 3e3, given{"at": 5e3, "q": "inf"}, given{"at": 100.0, "side": "right"}},
			"poles":    []any{20.6, given{"at": 1e3, "q": 0.7}, 30.0, 12e3, 15e3},
			"unity-at": "inf",
		}},
		{"rational", "at: 1 kHz, numerator: [1, 0, -2], denominator: [1, 1.5, 1]", given{"at": 1e3, "numerator": []any{1.0, 0.0, -2.0}, "denominator": []any{1.0, 1.5, 1.0}}},
		{"pole-shift", "from: {at: 55.8 Hz, q: 0.81}, to: {at: 34 Hz, q: 0.65}", given{"from": given{"at": 55.8, "q": 0.81}, "to": given{"at": 34.0, "q": 0.65}}},
		{"notch", "at: 50 Hz, q: 10, depth: complete", given{"at": 50.0, "q": 10.0}},
		{"delay", "by: 31 mm", given{"by": prototypetest.Metres(0.031)}},
		{"low-pass", "at: 2.3 kHz, family: elliptic, order: 5, ripple: 0.5 dB, stop: 60 dB", given{"at": 2300.0, "family": "elliptic", "order": 5, "ripple": 0.5, "stop": 60.0}},
	} {
		k, _ := prototype.ByName(c.kind)
		got, problems := k.Ideal(parsedFilter(t, c.kind, c.mapping))
		want := build(t, c.kind, c.g)
		if len(problems) > 0 || got.DelayS != want.DelayS || len(got.Sections) != len(want.Sections) {
			t.Errorf("%s: %+v, %v; want %+v", c.kind, got, problems, want)
			continue
		}
		for i := range got.Sections {
			if got.Sections[i] != want.Sections[i] {
				t.Errorf("%s: section %d is %+v, want %+v", c.kind, i, got.Sections[i], want.Sections[i])
			}
		}
	}
}

package result

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// keyEdits changes each key of the language once, by its path.
var keyEdits = map[string][]string{
	"name":                       {"name: plover", "name: dunlin"},
	"title":                      {"name: plover", "name: plover\ntitle: Plover"},
	"revision":                   {"revision: A1", "revision: A2"},
	"settings":                   {"[free, wall]", "[free, wall, corner]"},
	"common":                     {"at: 25 Hz", "at: 30 Hz"},
	"ways":                       {"at: 92 Hz", "at: 95 Hz"},
	"ways.*.filters":             {"at: 92 Hz", "at: 95 Hz"},
	"ways.*.gain":                {"gain: -4 dB", "gain: -3 dB"},
	"ways.*.polarity":            {"gain: -4 dB", "gain: -4 dB\n    polarity: inverted"},
	"ways.*.delay":               {"delay: 0.1 ms", "delay: 0.2 ms"},
	"crossovers":                 {"at: 260 Hz", "at: 250 Hz"},
	"phase-compensation":         {"digital:\n", "phase-compensation: exact\ndigital:\n"},
	"promise":                    {"phase: off", "phase: 3 deg"},
	"regression":                 {"digital:\n", "regression: {phase: 1 deg}\ndigital:\n"},
	"digital":                    {"[float32]", "[float32, float64]"},
	"digital.rates":              {"[96 kHz]", "[96 kHz, 48 kHz]"},
	"digital.formats":            {"[float32]", "[float32, float64]"},
	"digital.channels":           {"digital:\n", "digital:\n  channels: 2\n"},
	"digital.headroom":           {"digital:\n", "digital:\n  headroom: 2 dB\n"},
	"digital.method":             {"method: bilinear", "method: fit"},
	"digital.extra-biquads":      {"digital:\n", "digital:\n  extra-biquads: 2\n"},
	"digital.section-by-section": {"digital:\n", "digital:\n  section-by-section: true\n"},
	"board":                      {"digital:\n", "board: {supply: 12 V}\ndigital:\n"},
	"dac":                        {"digital:\n", "dac: {full-scale: 1 V}\ndigital:\n"},
}

// Every key of the language, changed, is an edit at its place: a key that
// comparisons do not look at would pass unseen. A new key of the grammar needs
// its row above.
func TestEveryKeyIsCompared(t *testing.T) {
	src := plover(t)
	parse := func(text string) *language.Spec {
		s, faults := language.Parse("plover.yaml", []byte(text), compiler.Language())
		if s == nil {
			t.Fatal(faults)
		}
		return s
	}
	was := parse(src)
	var want []string
	for _, k := range language.Grammar(compiler.Language()).Keys {
		switch k.Name {
		case "bandwright": // the version: another one cannot be read
			continue
		case "ways":
			for _, below := range k.Type.Map.Keys {
				want = append(want, "ways.*."+below.Name)
			}
		case "digital":
			for _, below := range k.Type.Keys {
				want = append(want, "digital."+below.Name)
			}
		}
		want = append(want, k.Name)
	}
	slices.Sort(want)
	if have := slices.Sorted(maps.Keys(keyEdits)); !slices.Equal(have, want) {
		t.Fatalf("edits of %v\nfor the keys %v", have, want)
	}
	for path, replace := range keyEdits {
		got := edits(was, parse(edited(t, src, replace...)))
		if len(got) != 1 {
			t.Errorf("%s: %d edits: %v", path, len(got), got)
			continue
		}
		parts, at := strings.Split(path, "."), strings.Split(got[0].path, ".")
		at[0], _, _ = strings.Cut(at[0], "[")
		for i, p := range parts {
			if i >= len(at) || p != "*" && !strings.HasPrefix(at[i], p) {
				t.Errorf("%s: the edit is told of %s", path, got[0].path)
				break
			}
		}
	}
}

package language

import (
	"slices"
	"strings"
	"testing"
)

func TestTables(t *testing.T) {
	if err := lang.Check(); err != nil {
		t.Error(err)
	}
}

// TestBrokenTables breaks one thing at a time in the tables and expects Check
// to name it.
func TestBrokenTables(t *testing.T) {
	key := func(change func(k *Key)) func(l *Tables) {
		return func(l *Tables) {
			i := slices.IndexFunc(l.Kinds, func(k Kind) bool { return k.Name == "notch" })
			l.Kinds[i].Keys = slices.Clone(l.Kinds[i].Keys)
			change(&l.Kinds[i].Keys[2]) // depth
		}
	}
	for want, change := range map[string]func(l *Tables){
		"the kind gain is there twice":                        func(l *Tables) { l.Kinds = append(l.Kinds, l.Kinds[len(l.Kinds)-2]) },
		`there is no kind "lowpass"`:                          func(l *Tables) { l.LowPass = "lowpass" },
		"low-pass and notch have different keys":              func(l *Tables) { l.HighPass = "notch" },
		"there are no methods":                                func(l *Tables) { l.Methods = nil },
		"gain has no key level":                               func(l *Tables) { l.Kinds[len(l.Kinds)-2].Bare = "level" },
		"gain: example: `x` is not a key":                     func(l *Tables) { l.Kinds[len(l.Kinds)-2].Example = "{x: 3, by: 1 dB}" },
		"notch.depth: default deep: `deep` is not a value":    key(func(k *Key) { k.Default = "deep" }),
		"notch.depth: example 20: `20` has no unit":           key(func(k *Key) { k.Example = "20" }),
		"notch.depth has no example":                          key(func(k *Key) { k.Example = "" }),
		"notch.depth has no doc":                              key(func(k *Key) { k.Doc = "" }),
		"notch.depth does not say what another value changes": key(func(k *Key) { k.Effect = 0 }),
		"notch.depth is required and has a default":           key(func(k *Key) { k.Required = true }),
		"notch.at is there twice":                             key(func(k *Key) { *k = at }),
		"low-pass has the key between, which a crossover has": func(l *Tables) { l.Kinds[0].Keys = append(slices.Clone(passKeys), Key{Name: "between"}) },
	} {
		l := lang
		l.Kinds = slices.Clone(lang.Kinds)
		change(&l)
		if err := l.Check(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}

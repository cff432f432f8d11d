package language

import (
	"errors"
	"fmt"
	"slices"
)

// Check says what is wrong with the tables themselves, nil if nothing: a name
// given twice, a default or an example that its own type refuses, a key without
// an Effect, or a low-pass and high-pass whose keys differ. Parse takes the
// tables as they are.
func (l Tables) Check() error {
	var errs []error
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	var kinds []string
	for _, k := range l.Kinds {
		if slices.Contains(kinds, k.Name) {
			add("the kind %s is there twice", k.Name)
		}
		kinds = append(kinds, k.Name)
	}
	low, okLow := l.kind(l.LowPass)
	high, okHigh := l.kind(l.HighPass)
	switch {
	case !okLow || !okHigh:
		add("there is no kind %q or no kind %q", l.LowPass, l.HighPass)
	case !slices.Equal(keyNames(low.Keys), keyNames(high.Keys)):
		add("%s and %s have different keys", l.LowPass, l.HighPass)
	}
	for _, k := range keyNames(low.Keys) {
		if k == "between" || k == "low" || k == "high" {
			add("%s has the key %s, which a crossover has itself", l.LowPass, k)
		}
	}
	if len(l.Methods) == 0 || len(l.Formats) == 0 {
		add("there are no methods or no number formats")
	}
	w := walker{reader: &reader{}, lang: l}
	root := Grammar(l)
	w.tables("the spec", &root, add)
	if len(l.Topologies) > 0 { // a stage has to name one
		held := heldGrammar(l)
		w.tables("the held board", &held, add)
	}
	for i := range l.Kinds {
		k := &l.Kinds[i]
		t := k.arguments(l)
		w.tables(k.Name, &t, add)
		w.try(k.Name+": example", &Key{Name: "filter", Type: Type{Filter: true}}, "{"+k.example()+"}", add)
		if b := k.Bare; b != "" && !t.hasKey(b) {
			add("%s has no key %s, which a bare value means", k.Name, b)
		}
	}
	return errors.Join(errs...)
}

// tables checks the key tables in a type and below it.
func (w *walker) tables(path string, t *Type, add func(string, ...any)) {
	for _, below := range []*Type{t.List, t.Map} {
		if below != nil {
			w.tables(path+"[]", below, add)
		}
	}
	for i := range t.Either {
		w.tables(path, &t.Either[i], add)
	}
	for i := range t.Parts {
		w.tables(path+"."+t.Parts[i].Letter, &t.Parts[i].Type, add)
	}
	for i := range t.Keys {
		k := &t.Keys[i]
		at := path + "." + k.Name
		if slices.Contains(keyNames(t.Keys[:i]), k.Name) {
			add("%s is there twice", at)
		}
		if k.Doc == "" {
			add("%s has no doc", at)
		}
		if k.Effect == 0 {
			add("%s does not say what another value changes: it needs an Effect", at)
		}
		if k.Required && k.Default != "" {
			add("%s is required and has a default", at)
		}
		if k.Default != "" {
			w.try(at+": default "+k.Default, k, k.Default, add)
		}
		if k.Example == "" {
			add("%s has no example", at)
		} else {
			w.try(at+": example "+k.Example, k, k.Example, add)
		}
		w.tables(at, &k.Type, add)
	}
}

// try reads a table's text as the value of its key in a file.
func (w *walker) try(what string, k *Key, text string, add func(string, ...any)) {
	r := &reader{file: what}
	src, ok := r.read([]byte("key: " + text))
	if ok {
		if root := r.tree(src); root != nil {
			v := walker{reader: r, lang: w.lang}
			v.value(root.entries[0].value, &k.Type, holder{at: Pos{1, 1}, name: quoted(k.Name), key: k.Name})
		}
	}
	for _, f := range r.faults {
		add("%s: %s; %s", what, f.Message, f.Right)
	}
}

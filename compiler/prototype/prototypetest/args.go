// Package prototypetest holds what every filter kind must satisfy, and a way
// to write a kind's arguments in a test. Check is called with every row of
// prototype.Kinds; a kind without a case here fails it.
//
// Read first: Check, cases.
package prototypetest

import (
	"fmt"
	"strconv"

	"bandwright/compiler/language"
)

// Given is a mapping as a spec would hold it: numbers in SI units or dB,
// words, lists ([]any) and further mappings.
type Given map[string]any

// Metres is a length where a key takes a time or a length.
type Metres float64

// Args is the checked mapping for a key table: the given values, and the
// table's default where one is left out. It panics on a key that the table
// does not have.
func Args(keys []language.Key, given Given) *language.Value {
	v := &language.Value{Given: true}
	known := 0
	for _, k := range keys {
		g, ok := given[k.Name]
		switch {
		case ok:
			known++
			v.Fields = append(v.Fields, language.Field{Key: k.Name, Value: value(k.Type, g)})
		case k.Default != "":
			v.Fields = append(v.Fields, language.Field{Key: k.Name, Value: fallback(k)})
		}
	}
	if known != len(given) {
		panic(fmt.Sprintf("prototypetest: a key of %v is unknown", given))
	}
	return v
}

// value is one given value of a type.
func value(t language.Type, g any) *language.Value {
	v := &language.Value{Given: true, Text: fmt.Sprint(g)}
	switch x := g.(type) {
	case float64:
		v.Number = x
		v.Dim = firstDim(t)
	case int:
		v.Number = float64(x)
	case Metres:
		v.Number, v.Dim = float64(x), language.Length
	case string:
		v.Word = x
	case []any:
		for _, e := range x {
			v.Items = append(v.Items, value(*t.List, e))
		}
	case Given:
		m := Args(mapping(t), x)
		m.Text = v.Text
		return m
	default:
		panic(fmt.Sprintf("prototypetest: no value of %T", g))
	}
	return v
}

// firstDim is the dimension of a plain quantity of the type.
func firstDim(t language.Type) language.Dim {
	for _, e := range append([]language.Type{t}, t.Either...) {
		if len(e.Dims) > 0 {
			return e.Dims[0]
		}
	}
	return ""
}

// mapping is the key table of the type or of its alternative.
func mapping(t language.Type) []language.Key {
	for _, e := range append([]language.Type{t}, t.Either...) {
		if e.Keys != nil {
			return e.Keys
		}
	}
	return nil
}

// fallback is a key's default: a word of its type, or a plain number.
func fallback(k language.Key) *language.Value {
	v := &language.Value{Text: k.Default}
	for _, w := range k.Type.Words {
		if w == k.Default {
			v.Word = w
			return v
		}
	}
	n, err := strconv.ParseFloat(k.Default, 64)
	if err != nil {
		panic(fmt.Sprintf("prototypetest: the default %q of `%s` is neither a word nor a plain number", k.Default, k.Name))
	}
	v.Number = n
	return v
}

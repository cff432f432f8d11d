// Package cname tells how the things of a spec are called in emitted C, and has the code's own names give way to
// them: a spec that is written once is not refused later because the code came to have a function of that name.
// Names come in, marked ones go out, to be printed; text with marks comes in, C goes out. The one invariant: what
// a spec calls its settings, choices and ways stands in C as the spec has it, whatever else the code holds.
//
// Read first: Names, then Settle.
package cname

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"bandwright/compiler/language"
	"bandwright/compiler/verify"
)

// Names are those of one spec, as a printer puts them into C. They carry marks, which Settle takes out: the stem
// of every identifier, and behind it what the spec gives. An identifier without the second mark is the code's own.
// A mark takes no room, so that lines are broken where they would be without.
type Names struct {
	Stem, Upper string // what identifiers begin with, functions and macros
	Settings    []Setting
	Ways        []string // enumerators, one a way

	given map[string]bool
}

// Setting is how a setting is called: Ident behind the stem, Count the macro that is how many choices there are,
// Choices the enumerators, one a choice.
type Setting struct {
	Ident, Count string
	Choices      []string
}

// New has the names of a spec that is called stem, an identifier of ASCII.
func New(stem string, settings []verify.Setting, ways []string) *Names {
	n := &Names{Stem: marked(stem), Upper: marked(strings.ToUpper(stem)), given: map[string]bool{}}
	for _, s := range settings {
		enum := marked(language.EnumName(s.Name))
		out := Setting{Ident: marked(strings.ReplaceAll(s.Name, "-", "_")), Count: n.Upper + "_" + enum + "_CHOICES"}
		for _, c := range s.Choices {
			out.Choices = append(out.Choices, n.Upper+"_"+enum+"_"+language.EnumName(c))
		}
		n.Settings = append(n.Settings, out)
	}
	for _, w := range ways {
		n.Ways = append(n.Ways, n.Upper+"_"+marked("WAY_")+language.EnumName(w))
	}
	for _, s := range n.Settings {
		for _, name := range append(append(n.Functions(s), s.Count), s.Choices...) {
			n.given[Plain(name)] = true
		}
	}
	for _, w := range n.Ways {
		n.given[Plain(w)] = true
	}
	return n
}

// Functions are what is called after a setting, behind the stem: its enumeration, both calls and its choices' names.
func (n *Names) Functions(s Setting) []string {
	front := n.Stem + "_"
	return []string{front + s.Ident, front + "set_" + s.Ident, front + "get_" + s.Ident, front + s.Ident + "_names"}
}

// Settle makes C of texts that are compiled together: an own name that the spec gives to something as well gets an end,
// the same in all of them, and marks are taken out. What carries no mark stays as it is.
func (n *Names) Settle(texts ...[]byte) [][]byte {
	own := map[string]bool{}
	for _, text := range texts {
		n.each(text, func(name string) string { own[name] = true; return name })
	}
	out := make([][]byte, len(texts))
	for i, text := range texts {
		out[i] = n.each(text, func(name string) string {
			if !n.given[name] {
				return name
			}
			end := "_own"
			if strings.HasPrefix(name, Plain(n.Upper)) {
				end = "_OWN"
			}
			for own[name] || n.given[name] {
				name += end
			}
			return name
		})
	}
	return out
}

// each puts what f says in the place of every own identifier of a text, and takes the marks out.
func (n *Names) each(text []byte, f func(name string) string) []byte {
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); {
		if !isMarked(text[i:]) {
			_, size := utf8.DecodeRune(text[i:])
			out = append(out, text[i:i+size]...)
			i += size
			continue
		}
		name := n.identifier(text[i:])
		i += len(name)
		switch plain := Plain(string(name)); {
		case isMarked(text[i:]): // what follows is the spec's
			out = append(append(out, plain...), text[i]&^mark)
			i++
		case len(name) > 1:
			out = append(out, f(plain)...)
		default:
			out = append(out, plain...)
		}
	}
	return out
}

// identifier is what of a text that begins with a mark goes to the next sign or mark: with a stem in front all of an
// identifier, otherwise the marked byte alone.
func (n *Names) identifier(text []byte) []byte {
	if !bytes.HasPrefix(text, []byte(n.Stem+"_")) && !bytes.HasPrefix(text, []byte(n.Upper+"_")) {
		return text[:1]
	}
	end := bytes.IndexFunc(text[1:], func(r rune) bool {
		return r != '_' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
	})
	if end < 0 {
		return text
	}
	return text[:1+end]
}

// isMarked reports that a text begins with a mark.
func isMarked(text []byte) bool {
	if len(text) == 0 || text[0] < mark {
		return false
	}
	r, size := utf8.DecodeRune(text)
	return r == utf8.RuneError && size == 1
}

// mark is the bit that no byte of ASCII has. A byte with it between two of ASCII is no character of UTF-8, so that other
// text keeps what it has.
const mark = 0x80

func marked(name string) string { return string([]byte{name[0] | mark}) + name[1:] }

// Plain is a name without its marks.
func Plain(name string) string {
	out := []byte(name)
	for i := range out {
		out[i] &^= mark
	}
	return string(out)
}

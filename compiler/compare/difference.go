package compare

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// difference is that of two specs as trees of checked values. It goes through
// the grammar, and what a change of a key does stands in the grammar: a key that
// joins the language needs no line here.
type difference struct {
	old, new *language.Value
	lang     language.Tables
	root     language.Type
	kinds    map[string]*language.Type // the arguments of each kind that was met
}

func newDifference(old, new *language.Spec, lang language.Tables) *difference {
	return &difference{old: old.Tree, new: new.Tree, lang: lang, root: language.Grammar(lang), kinds: map[string]*language.Type{}}
}

// edits lists what changed in the order of the grammar.
func (d *difference) edits() []edit {
	var out []edit
	d.blend(func(e edit) bool {
		if !slices.ContainsFunc(out, func(o edit) bool { return o.said == e.said }) {
			out = append(out, e)
		}
		return true
	})
	return out
}

// prototype is that of the old spec with the edits for which on holds, nil
// where such a spec means nothing. What changes no prototype is the new one's.
func (d *difference) prototype(on func(edit) bool) *compiler.Wanted {
	s, _ := language.FromTree(d.blend(func(e edit) bool { return !e.wanted() || on(e) }), d.lang)
	if s == nil {
		return nil
	}
	s.Digital = nil // no rate refuses a corner of what is never realised
	w, _ := compiler.Prototype(s)
	return w
}

// blend is a spec between the two: at every line that changed, choose says
// whether the new one is taken.
func (d *difference) blend(choose func(edit) bool) *language.Value {
	b := blend{difference: d, choose: choose, renamed: map[string][]renaming{}}
	return b.spared(b.value(place{key: language.Key{Type: d.root}}, d.old, d.new))
}

// arguments is the mapping of a kind of filter.
func (d *difference) arguments(kind string) *language.Type {
	t, met := d.kinds[kind]
	if !met {
		made := d.lang.Arguments(kind)
		t, d.kinds[kind] = &made, &made
	}
	return t
}

type blend struct {
	*difference
	choose func(edit) bool
	// The ways of both specs, and those of the blended one, as the new spec calls them.
	before, after, ways []string
	renamed             map[string][]renaming // by block
	spare               []spare
}

// place is where in a spec two values stand.
type place struct {
	path string
	key  language.Key
}

// at is a place below p.
func (p place) at(path string, t *language.Type) place {
	return place{p.path + path, language.Key{Effect: p.key.Effect, Type: *t}}
}

// value blends two values; nil is none.
func (b *blend) value(at place, o, n *language.Value) *language.Value {
	t := &at.key.Type
	offers := at.key.Effect.Has(language.Offers)
	if v, ok := b.follows(t, o, n); ok {
		return v
	}
	switch {
	case o == nil && n == nil:
		return nil
	case t.Idle:
		return b.idle(at, o, n)
	case t.Map != nil && t.Map.Keys != nil && o != nil && n != nil:
		return b.byName(at, o, n)
	case t.Map != nil && offers:
		return b.settings(at, o, n)
	case t.List != nil && offers:
		return b.offered(at, o, n)
	case t.List != nil && t.List.Filter:
		return b.filters(at, o, n)
	case t.By != "":
		return b.crossovers(at, o, n)
	case t.Map == nil && o != nil && n != nil && o.Fields != nil && n.Fields != nil && !otherForm(t, o, n):
		return b.keys(at, o, n)
	case alike(o, n) || b.choose(edited(at, o, n)):
		return n
	}
	return o
}

// otherForm reports whether two values are different ones of a type's mappings, by the keys that each has to have, such as a
// driver by its model and one by what was measured: no key of one means anything in the other.
func otherForm(t *language.Type, o, n *language.Value) bool {
	form := func(v *language.Value) int {
		return slices.IndexFunc(t.Either, func(x language.Type) bool {
			return x.Keys != nil && !slices.ContainsFunc(x.Keys, func(k language.Key) bool { return k.Required && v.Get(k.Name) == nil })
		})
	}
	was, is := form(o), form(n)
	return was >= 0 && is >= 0 && was != is
}

// keys blends two mappings key by key.
func (b *blend) keys(at place, o, n *language.Value) *language.Value {
	out := *n
	out.Fields = nil
	for _, k := range at.key.Type.Table() {
		path := strings.TrimPrefix(at.path+"."+k.Name, ".")
		if v := b.value(place{path, k}, o.Get(k.Name), n.Get(k.Name)); v != nil {
			out.Fields = append(out.Fields, language.Field{Key: k.Name, KeyPos: v.Pos, Value: v})
		}
	}
	return &out
}

// settings joins two sets of settings, whatever is chosen: the old choices, then
// those that are new. So the prototypes of both specs have the same combinations.
func (b *blend) settings(at place, o, n *language.Value) *language.Value {
	var out language.Value
	e := func(path string, pos language.Pos, stops bool, format string, args ...any) {
		b.choose(edit{path: path, at: pos, said: path + fmt.Sprintf(format, args...), effect: at.key.Effect, stops: stops})
	}
	for _, f := range fields(o) {
		path, is := at.path+"."+f.Key, n.Get(f.Key)
		if is == nil {
			e(path, language.Pos{}, true, " was removed: it had %s", words.List(texts(f.Value.Items)))
			out.Fields = append(out.Fields, f)
			continue
		}
		joint := *f.Value
		gone, come := lacking(f.Value.Items, is.Items), lacking(is.Items, f.Value.Items)
		for _, c := range come {
			e(path, is.Pos, false, " gained the choice %s", c)
		}
		for _, c := range is.Items {
			if lacking([]*language.Value{c}, f.Value.Items) != nil {
				joint.Items = append(slices.Clip(joint.Items), c)
			}
		}
		for _, c := range gone {
			e(path, is.Pos, true, " lost the choice %s", c)
		}
		if was, now := f.Value.Items[0], is.Items[0]; !alike(was, now) {
			e(path, is.Pos, true, " now defaults to %s, not %s", now.Text, was.Text)
		} else if gone == nil && come == nil && !slices.EqualFunc(f.Value.Items, is.Items, alike) {
			e(path, is.Pos, false, " went from %s to %s", text(f.Value), text(is))
		}
		out.Fields = append(out.Fields, language.Field{Key: f.Key, KeyPos: f.KeyPos, Value: &joint})
	}
	for _, f := range fields(n) {
		if o.Get(f.Key) == nil {
			e(at.path+"."+f.Key, f.KeyPos, false, " was added: %s", words.List(texts(f.Value.Items)))
			out.Fields = append(out.Fields, f)
		}
	}
	return &out
}

// fields are a mapping's, none of nil.
func fields(v *language.Value) []language.Field {
	if v == nil {
		return nil
	}
	return v.Fields
}

// offered tells what a list of what the product offers gained and lost.
func (b *blend) offered(at place, o, n *language.Value) *language.Value {
	e := edited(at, o, n)
	tell := func(stops bool, said string) {
		e.said, e.stops = at.path+said, stops
		b.choose(e)
	}
	before, after := items(o), items(n)
	for _, x := range before {
		if i := slices.IndexFunc(after, func(y *language.Value) bool { return onlyName(x, y) }); i >= 0 {
			if k := slices.IndexFunc(before, func(z *language.Value) bool { return alike(z, after[i]) }); k >= 0 {
				continue
			}
			e.at = after[i].Pos
			tell(true, fmt.Sprintf(": %s is now called %s", text(x.Get("name")), text(after[i].Get("name"))))
			before = exchanged(before, x, after[i])
		}
	}
	gone, come := lacking(before, after), lacking(after, before)
	if gone != nil {
		tell(true, " lost "+words.List(gone))
	}
	if come != nil {
		tell(false, " gained "+words.List(come))
	}
	if gone == nil && come == nil && !slices.EqualFunc(before, after, alike) {
		tell(false, " went from "+text(o)+" to "+text(n))
	}
	return n
}

// onlyName reports whether two entries of a list, which have names, differ in these alone.
func onlyName(o, n *language.Value) bool {
	was, is := o.Get("name"), n.Get("name")
	return was != nil && is != nil && !alike(was, is) && alike(with(o, "name", is), n)
}

// exchanged is a list with another entry in the place of one.
func exchanged(list []*language.Value, was, is *language.Value) []*language.Value {
	out := slices.Clone(list)
	out[slices.Index(out, was)] = is
	return out
}

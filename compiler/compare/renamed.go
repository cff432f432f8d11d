package compare

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/words"
)

// renaming is an entry of a block that has another name in the new spec and is otherwise as it was.
type renaming struct{ was, is, now string } // now is its name in the blended spec

// rename finds entries of two mappings that only have another name, and tells each: an edit is like e.
func (b *blend) rename(at place, e edit, o, n *language.Value) {
	var all []renaming
	for _, was := range without(names(o), names(n)) {
		for _, f := range n.Fields {
			known := o.Get(f.Key) != nil || slices.ContainsFunc(all, func(r renaming) bool { return r.is == f.Key })
			if known || !alike(b.inNewWords(o.Get(was)), f.Value) {
				continue
			}
			e.path, e.at, e.was, e.said = at.path+"."+f.Key, f.KeyPos, was, fmt.Sprintf("%s.%s is now called %s", at.path, was, f.Key)
			r := renaming{was, f.Key, was}
			if b.choose(e) {
				r.now = f.Key
			}
			all = append(all, r)
			break
		}
	}
	b.renamed[at.path] = all
}

// calledBefore are ways, one or several joined by "+", as the old result calls them.
func (c *comparison) calledBefore(ways string) string {
	all := strings.Split(ways, "+")
	for i, name := range all {
		for _, e := range c.edits {
			if e.was != "" && e.path == waysBlock+"."+name {
				all[i] = e.was
			}
		}
	}
	return strings.Join(all, "+")
}

// inNew is what the new spec calls an entry of a block, and isNow what the blended one does.
func (b *blend) inNew(block, name string) string {
	for _, r := range b.renamed[block] {
		if r.was == name {
			return r.is
		}
	}
	return name
}

func (b *blend) isNow(block, name string) string {
	for _, r := range b.renamed[block] {
		if r.was == name || r.is == name {
			return r.now
		}
	}
	return name
}

// inNewWords is a value with the new names wherever it has one of an entry that is called otherwise now.
func (b *blend) inNewWords(v *language.Value) *language.Value {
	out := *v
	for _, block := range slices.Sorted(maps.Keys(b.renamed)) {
		out.Word = b.inNew(block, out.Word)
	}
	out.Items, out.Fields = slices.Clone(v.Items), slices.Clone(v.Fields)
	for i, x := range out.Items {
		out.Items[i] = b.inNewWords(x)
	}
	for i, f := range out.Fields {
		out.Fields[i].Value = b.inNewWords(f.Value)
	}
	return &out
}

// allInNew are entries of a block as the new spec calls them.
func (b *blend) allInNew(block string, names []string) []string {
	out := slices.Clone(names)
	for i := range out {
		out[i] = b.inNew(block, out[i])
	}
	return out
}

// follows is a name, or a list of names, of entries of a block that are as they were but for what they are called;
// false where another entry is named.
func (b *blend) follows(t *language.Type, o, n *language.Value) (*language.Value, bool) {
	of := t.Of
	if t.List != nil {
		of = t.List.Of
	}
	if of == "" || len(b.renamed[of]) == 0 || o == nil || n == nil || len(o.Items) != len(n.Items) || b.inNew(of, o.Word) != n.Word ||
		!slices.EqualFunc(o.Items, n.Items, func(x, y *language.Value) bool { return b.inNew(of, x.Word) == y.Word }) {
		return nil, false
	}
	return b.named(of, n), true
}

// named is a value with the names that the blended spec has for the entries of a block that it names.
func (b *blend) named(block string, v *language.Value) *language.Value {
	out := *v
	out.Word = b.isNow(block, v.Word)
	if out.Word != v.Word {
		out.Text = out.Word
	}
	out.Items = nil
	for _, x := range v.Items {
		out.Items = append(out.Items, b.named(block, x))
	}
	return &out
}

// spare is an entry of a mapping that the blended spec has only where a value names it.
type spare struct {
	in   *language.Value
	name string
}

// idle blends two mappings whose entries do nothing until a value elsewhere names them: what came or went is there as
// long as a line names it, so that each of these lines means something by itself.
func (b *blend) idle(at place, o, n *language.Value) *language.Value {
	out := &language.Value{}
	if o == nil {
		o = out
	}
	if n == nil {
		n = out
	}
	e := edited(at, o, n)
	e.effect, e.stops = 0, false
	b.rename(at, e, o, n)
	taken := true
	if before, after := b.allInNew(at.path, names(o)), names(n); !slices.Equal(before, after) {
		e.said = at.path + cameAndWent(before, after)
		taken = b.choose(e)
	}
	add := func(f language.Field, wanted bool) {
		if out.Fields = append(out.Fields, f); !wanted {
			b.spare = append(b.spare, spare{out, f.Key})
		}
	}
	for _, f := range n.Fields {
		was := o.Get(f.Key)
		if was != nil {
			f.Value = b.value(at.at("."+f.Key, at.key.Type.Map), was, f.Value)
		}
		add(f, was != nil || taken)
	}
	for _, f := range o.Fields {
		if n.Get(f.Key) == nil { // under its old name too, if it has another one
			add(f, !taken && b.inNew(at.path, f.Key) == f.Key)
		}
	}
	return out
}

// spared is a blended spec without the entries that nothing in it names, nor a mapping that has no other.
func (b *blend) spared(v *language.Value) *language.Value {
	for _, x := range b.spare {
		if !mentions(v, x.name) {
			x.in.Fields = slices.DeleteFunc(x.in.Fields, func(f language.Field) bool { return f.Key == x.name })
		}
	}
	v.Fields = slices.DeleteFunc(v.Fields, func(f language.Field) bool {
		return len(f.Value.Fields) == 0 && slices.ContainsFunc(b.spare, func(x spare) bool { return x.in == f.Value })
	})
	return v
}

// mentions reports whether a value is a name, or has it in it.
func mentions(v *language.Value, name string) bool {
	return v.Word == name || slices.ContainsFunc(v.Items, func(x *language.Value) bool { return mentions(x, name) }) ||
		slices.ContainsFunc(v.Fields, func(f language.Field) bool { return mentions(f.Value, name) })
}

// cameAndWent says which names came and went, behind what they are names of.
func cameAndWent(before, after []string) string {
	switch gone, come := without(before, after), without(after, before); {
	case gone == nil && come == nil:
		return fmt.Sprintf(" went from %s to %s", words.List(before), words.List(after))
	case gone == nil:
		return " gained " + words.List(come)
	case come == nil:
		return " lost " + words.List(gone)
	default:
		return fmt.Sprintf(" has %s instead of %s", words.List(come), words.List(gone))
	}
}

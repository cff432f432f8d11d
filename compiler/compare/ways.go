package compare

import (
	"fmt"
	"slices"

	"bandwright/compiler/language"
)

// byName blends two mappings with free names whose order matters: the ways. Which there are, and in which order, is
// one edit, that crossovers hang on; another name for one of them is an edit by itself.
func (b *blend) byName(at place, o, n *language.Value) *language.Value {
	e := edited(at, o, n)
	b.rename(at, e, o, n)
	before, after := b.allInNew(at.path, names(o)), names(n)
	base := n
	if !slices.Equal(before, after) {
		if e.said = at.path + cameAndWent(before, after); !b.choose(e) {
			base = o
		}
	}
	out := &language.Value{Pos: base.Pos}
	for _, f := range base.Fields {
		if was, is := o.Get(f.Key), n.Get(f.Key); was != nil && is != nil {
			f.Value = b.value(at.at("."+f.Key, at.key.Type.Map), was, is)
		}
		f.Key = b.isNow(at.path, f.Key)
		out.Fields = append(out.Fields, f)
	}
	b.before, b.after, b.ways = before, after, b.allInNew(at.path, names(out))
	return out
}

func names(v *language.Value) (out []string) {
	for _, f := range v.Fields {
		out = append(out, f.Key)
	}
	return out
}

// without are the names in a that b lacks.
func without(a, b []string) []string {
	var out []string
	for _, x := range a {
		if !slices.Contains(b, x) {
			out = append(out, x)
		}
	}
	return out
}

// waysBlock is the block that crossovers name entries of.
const waysBlock = "ways"

// neighbours are two ways of which the second follows the first.
type neighbours [2]string

func (p neighbours) in(ways []string) bool {
	i := slices.Index(ways, p[0])
	return i >= 0 && i+1 < len(ways) && ways[i+1] == p[1]
}

// crossovers blends the crossovers, which pair by the ways that they are
// between. One whose ways are neighbours in one of the specs only comes and goes
// with the ways.
func (b *blend) crossovers(at place, before, after *language.Value) *language.Value {
	old, new := items(before), items(after)
	between := func(x *language.Value) neighbours {
		v := x.Get(at.key.Type.By).Items
		return neighbours{b.inNew(waysBlock, v[0].Word), b.inNew(waysBlock, v[1].Word)}
	}
	partner := pair(nobody(len(new)), len(old), func(i, j int) bool { return between(old[i]) == between(new[j]) })
	var out []*language.Value
	alone := func(x *language.Value, e edit, index int, changed string, added bool) {
		ways := between(x)
		e.path = fmt.Sprintf("%s[%d]", at.path, index)
		e.said = fmt.Sprintf("%s was %s: %s to %s %s", e.path, changed, ways[0], ways[1], filtersText(x))
		there := ways.in(b.ways)
		if ways.in(b.before) && ways.in(b.after) {
			there = b.choose(e) == added
		}
		if there {
			out = append(out, b.between(x, at.key.Type.By))
		}
	}
	for j, x := range new {
		if i := partner[j]; i >= 0 {
			out = append(out, b.crossover(at.at(fmt.Sprintf("[%d]", j), at.key.Type.List), old[i], x))
		} else {
			alone(x, edit{at: x.Pos, effect: at.key.Effect}, j, "added", true)
		}
	}
	for i, x := range old {
		if !slices.Contains(partner, i) {
			alone(x, edit{effect: at.key.Effect}, i, "removed", false)
		}
	}
	return listed(out, after)
}

// between is a crossover of the ways as the blended spec calls them.
func (b *blend) between(x *language.Value, by string) *language.Value {
	out := *x
	out.Fields = slices.Clone(x.Fields)
	for i := range out.Fields {
		if f := &out.Fields[i]; f.Key == by {
			f.Value = b.named(waysBlock, f.Value)
		}
	}
	return &out
}

// filtersText is the filters of a crossover as a spec writes them.
func filtersText(x *language.Value) string {
	x = language.Apart(x)
	low, high := x.Get("low"), x.Get("high")
	if alike(low, high) {
		return text(low)
	}
	return text(low) + " and " + text(high)
}

// crossover blends two crossovers of the same ways: line by line where both are
// one filter for both sides, or both one for each, otherwise side by side.
func (b *blend) crossover(at place, o, n *language.Value) *language.Value {
	if was, is := language.Apart(o), language.Apart(n); (was == o) != (is == n) {
		o, n = was, is
	}
	return b.keys(at, o, n)
}

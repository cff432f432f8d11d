package compare

import (
	"fmt"
	"slices"

	"bandwright/compiler/language"
)

// filter is one filter of a spec.
type filter struct {
	*language.Value
	kind string
	args *language.Value
}

func filtersOf(v *language.Value) []filter {
	var out []filter
	for _, x := range items(v) {
		out = append(out, filter{x, x.Fields[0].Key, x.Fields[0].Value})
	}
	return out
}

// filters blends two lists of filters. Equal filters pair first, in order and
// then out of it; then those of one kind that share a value or their place.
// What is left was added or removed.
func (b *blend) filters(at place, before, after *language.Value) *language.Value {
	old, new := filtersOf(before), filtersOf(after)
	same := func(i, j int) bool { return alike(old[i].Value, new[j].Value) }
	kin := func(i, j int) bool { return old[i].kind == new[j].kind }
	partner := pair(inOrder(len(old), len(new), same), len(old), same,
		func(i, j int) bool {
			return kin(i, j) && b.shares(old[i], new[j]) && alike(b.when(old[i]), b.when(new[j]))
		},
		func(i, j int) bool { return kin(i, j) && (i == j || b.shares(old[i], new[j])) })
	b.order(at, new, partner)
	var out []*language.Value
	for i, f := range old {
		here := fmt.Sprintf("%s[%d]", at.path, i)
		e := edit{path: here, said: fmt.Sprintf("%s was removed: %s", here, b.text(f)), effect: at.key.Effect}
		if !slices.Contains(partner, i) && !b.choose(e) {
			out = append(out, f.Value)
		}
	}
	for j, f := range new {
		here := fmt.Sprintf("[%d]", j)
		if i := partner[j]; i >= 0 {
			args := b.keys(at.at(here, b.arguments(f.kind)), old[i].args, f.args)
			f.Value = &language.Value{Pos: f.Pos, Fields: []language.Field{{Key: f.kind, KeyPos: f.Fields[0].KeyPos, Value: args}}}
		} else if here = at.path + here; !b.choose(edit{path: here, at: f.Fields[0].KeyPos, said: fmt.Sprintf("%s was added: %s", here, b.text(f)), effect: at.key.Effect}) {
			continue
		}
		out = append(out, f.Value)
	}
	return listed(out, after)
}

// listed is a list, nil where it is empty and the new spec has none.
func listed(items []*language.Value, after *language.Value) *language.Value {
	if items == nil && after == nil {
		return nil
	}
	return &language.Value{Given: true, Items: append([]*language.Value{}, items...)}
}

// order tells of filters that only changed places, which changes no response.
func (b *blend) order(at place, new []filter, partner []int) {
	last, moved := -1, false
	for _, i := range partner {
		if i >= 0 {
			moved = moved || i < last
			last = max(last, i)
		}
	}
	if moved {
		b.choose(edit{path: at.path, at: new[0].Pos, said: at.path + " are in a different order", effect: language.RealisesDigital | language.RealisesBoard})
	}
}

// when is what a filter says of the settings that it is there for, nil for all.
func (b *blend) when(f filter) *language.Value {
	for _, x := range f.args.Fields {
		if b.effect(f.kind, x.Key).Has(language.Conditional) {
			return x.Value
		}
	}
	return nil
}

// effect is that of a key of a filter.
func (b *blend) effect(kind, key string) language.Effect {
	keys := b.arguments(kind).Keys
	for i := range keys {
		if keys[i].Name == key {
			return keys[i].Effect
		}
	}
	return 0
}

// shares reports whether two filters of a kind have a value in common, of what
// is wanted, that the spec gives.
func (b *blend) shares(o, n filter) bool {
	for _, f := range o.args.Fields {
		e, v := b.effect(o.kind, f.Key), n.args.Get(f.Key)
		if e.Has(language.Wanted) && !e.Has(language.Conditional) && v != nil && f.Value.Given && v.Given && alike(f.Value, v) {
			return true
		}
	}
	return false
}

// text is a filter as a spec writes it, its condition last.
func (b *blend) text(f filter) string {
	condition := ""
	args := *f.args
	args.Fields = []language.Field{}
	for _, x := range f.args.Fields {
		if b.effect(f.kind, x.Key).Has(language.Conditional) {
			condition = " " + x.Key + " " + text(x.Value)
		} else {
			args.Fields = append(args.Fields, x)
		}
	}
	return f.kind + " " + text(&args) + condition
}

// inOrder is a longest common subsequence: for each of m new things its partner
// among n old ones, -1 for none.
func inOrder(n, m int, same func(i, j int) bool) []int {
	length := make([][]int, n+1)
	for i := range length {
		length[i] = make([]int, m+1)
	}
	for i := n - 1; i >= 0; i-- {
		for j := m - 1; j >= 0; j-- {
			length[i][j] = max(length[i+1][j], length[i][j+1])
			if same(i, j) {
				length[i][j] = max(length[i][j], length[i+1][j+1]+1)
			}
		}
	}
	out := nobody(m)
	for i, j := 0, 0; i < n && j < m; {
		switch {
		case same(i, j) && length[i][j] == length[i+1][j+1]+1:
			out[j] = i
			i++
			j++
		case length[i][j+1] >= length[i+1][j]:
			j++
		default:
			i++
		}
	}
	return out
}

// nobody is no partner for each of m things.
func nobody(m int) []int { return slices.Repeat([]int{-1}, m) }

// pair completes the partners that new things have among n old ones, round by
// round: in each, in order, those that fit and have none yet.
func pair(partner []int, n int, rounds ...func(i, j int) bool) []int {
	for _, fits := range rounds {
		for j := range partner {
			for i := range n {
				if partner[j] < 0 && !slices.Contains(partner, i) && fits(i, j) {
					partner[j] = i
				}
			}
		}
	}
	return partner
}

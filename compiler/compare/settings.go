package compare

import (
	"fmt"
	"slices"

	"bandwright/compiler/language"
	"bandwright/compiler/result"
)

// newNames finds settings, and choices of settings, that only have another name in the new spec, and says so: the names are
// for result.Accepted.Called and inNewNames.
func newNames(o, n *language.Value) (all []result.Rename, told []edit) {
	old, new := o.Get("settings"), n.Get("settings")
	if old == nil || new == nil {
		return nil, nil
	}
	is := map[string]string{} // by the old name
	for _, f := range old.Fields {
		if new.Get(f.Key) != nil {
			is[f.Key] = f.Key
		}
	}
	come := without(names(new), names(old))
	for _, alone := range []bool{false, true} { // those that filters use alike first
		for _, was := range without(names(old), names(new)) {
			at := slices.IndexFunc(come, func(now string) bool {
				return is[was] == "" && calledSo(o, n, was, now, alone)
			})
			if at < 0 {
				continue
			}
			now := come[at]
			is[was], come = now, slices.Delete(come, at, at+1)
			all = append(all, result.Rename{Setting: was, To: now})
			told = append(told, offer("settings."+now, keyPos(new, now), fmt.Sprintf("settings.%s is now called %s", was, now)))
		}
	}
	for _, f := range old.Fields {
		now := is[f.Key]
		if now == "" {
			continue
		}
		come := lacking(new.Get(now).Items, f.Value.Items)
		for _, was := range lacking(f.Value.Items, new.Get(now).Items) {
			at := slices.IndexFunc(come, func(c string) bool {
				before, after := uses(o, f.Key, was), uses(n, now, c)
				same := ordinal(f.Value, was) == ordinal(new.Get(now), c)
				return slices.Equal(before, after) && (same || len(before) > 0)
			})
			if at < 0 {
				continue
			}
			all = append(all, result.Rename{Setting: now, Choice: was, To: come[at]})
			told = append(told, offer("settings."+now, new.Get(now).Pos, fmt.Sprintf("settings.%s: the choice %s is now called %s", now, was, come[at])))
			come = slices.Delete(come, at, at+1)
		}
	}
	return all, told
}

// offer is the edit of something that the product offered under another name.
func offer(path string, at language.Pos, said string) edit {
	return edit{path: path, at: at, said: said, effect: language.Offers, stops: true}
}

// calledSo reports whether a setting may be an old one with another name: with the same choices, for the same filters or, where
// it stands alone, for any; or with one choice at least in common for the same filters.
func calledSo(o, n *language.Value, was, now string, alone bool) bool {
	before, after := o.Get("settings").Get(was), n.Get("settings").Get(now)
	same := slices.EqualFunc(before.Items, after.Items, alike)
	if alone {
		return same
	}
	used := uses(o, was, "")
	return slices.Equal(used, uses(n, now, "")) && (same || len(used) > 0 && len(lacking(before.Items, after.Items)) < len(before.Items))
}

// ordinal is where a choice stands among those of a setting.
func ordinal(choices *language.Value, choice string) int {
	return slices.IndexFunc(choices.Items, func(v *language.Value) bool { return text(v) == choice })
}

func keyPos(v *language.Value, key string) language.Pos {
	for _, f := range v.Fields {
		if f.Key == key {
			return f.KeyPos
		}
	}
	return v.Pos
}

// uses are the filters, in order, by where they are and by kind, that are there for a setting's choice, or for any ("").
func uses(root *language.Value, setting, choice string) (out []string) {
	eachWhen(root, func(where string, when *language.Value) *language.Value {
		v := when.Get(setting)
		if v != nil && (choice == "" || slices.Contains(texts(items(v)), choice)) {
			out = append(out, where)
		}
		return when
	})
	return out
}

// eachWhen is a spec with other conditions of its filters. A filter's place is the list that it is in, a way's by the way's
// number, with the filter's kind.
func eachWhen(root *language.Value, of func(where string, when *language.Value) *language.Value) *language.Value {
	list := func(where string, v *language.Value) *language.Value {
		out := *v
		out.Items = slices.Clone(v.Items)
		for i, x := range v.Items {
			f := x.Fields[0]
			out.Items[i] = with(x, f.Key, changed(f.Value, "when", func(when *language.Value) *language.Value { return of(where+" "+f.Key, when) }))
		}
		return &out
	}
	root = changed(root, "common", func(v *language.Value) *language.Value { return list("common", v) })
	return changed(root, "ways", func(ways *language.Value) *language.Value {
		for i, w := range ways.Fields {
			ways = with(ways, w.Key, changed(w.Value, "filters", func(v *language.Value) *language.Value { return list(fmt.Sprint(i), v) }))
		}
		return ways
	})
}

// with is a mapping with another value of a key that it has.
func with(v *language.Value, key string, to *language.Value) *language.Value {
	out := *v
	out.Fields = slices.Clone(v.Fields)
	for i := range out.Fields {
		if out.Fields[i].Key == key {
			out.Fields[i].Value = to
		}
	}
	return &out
}

// changed is a mapping with what is made of the value of a key, if it has that.
func changed(v *language.Value, key string, of func(*language.Value) *language.Value) *language.Value {
	if is := v.Get(key); is != nil {
		return with(v, key, of(is))
	}
	return v
}

// inNewNames is a spec with the names that a newer one has for settings and choices.
func inNewNames(root *language.Value, all []result.Rename) *language.Value {
	for _, r := range all {
		word := func(v *language.Value) *language.Value {
			if r.Choice == "" || text(v) != r.Choice {
				return v
			}
			out := *v
			if out.Text = r.To; out.Word != "" {
				out.Word = r.To
			}
			return &out
		}
		value := func(v *language.Value) *language.Value {
			if v.Items == nil {
				return word(v)
			}
			out := *v
			out.Items = nil
			for _, x := range v.Items {
				out.Items = append(out.Items, word(x))
			}
			return &out
		}
		key := func(v *language.Value) *language.Value { // by setting
			if r.Choice != "" {
				return changed(v, r.Setting, value)
			}
			return keyed(v, r.Setting, r.To)
		}
		root = changed(eachWhen(root, func(_ string, when *language.Value) *language.Value { return key(when) }), "settings", key)
		root = changed(root, "board", func(board *language.Value) *language.Value {
			return changed(board, "input", func(input *language.Value) *language.Value {
				return changed(input, "level", func(level *language.Value) *language.Value {
					if r.Choice != "" {
						return changed(level, r.Setting, func(v *language.Value) *language.Value { return keyed(v, r.Choice, r.To) })
					}
					return keyed(level, r.Setting, r.To)
				})
			})
		})
	}
	return root
}

// keyed is a mapping in which a key is called otherwise.
func keyed(v *language.Value, was, is string) *language.Value {
	out := *v
	out.Fields = slices.Clone(v.Fields)
	for i := range out.Fields {
		if out.Fields[i].Key == was {
			out.Fields[i].Key = is
		}
	}
	return &out
}

package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bandwright/compiler/language"
	"bandwright/compiler/promise"
)

// edit is one line of the spec that changed its meaning.
type edit struct {
	said   string       // "crossovers[0].at went from 260 Hz to 252 Hz": its identity as well
	path   string       // "crossovers[0].at"
	at     language.Pos // in the new spec; zero where nothing of it is left there
	effect language.Effect
	// stops is why the edit alone must not pass unseen: something that the
	// product offered is gone, or a promise is weaker.
	stops bool
	// was is what the entry at path was called before, where that alone changed.
	was string
}

// wanted reports whether the edit may change the prototype.
func (e edit) wanted() bool { return e.effect.Has(language.Wanted) }

// edited is the edit of a value as a whole.
func edited(at place, o, n *language.Value) edit {
	e := edit{path: at.path, said: went(at.path, text(o), text(n)), effect: at.key.Effect, stops: stops(at.key, o, n)}
	if n != nil {
		e.at = n.Pos
	}
	return e
}

// went is the sentence part of a value that changed.
func went(path, from, to string) string {
	switch {
	case from == "":
		return fmt.Sprintf("%s was added: %s", path, to)
	case to == "":
		return fmt.Sprintf("%s was removed: it was %s", path, from)
	}
	return fmt.Sprintf("%s went from %s to %s", path, from, to)
}

// stops reports whether another value of a key must not pass unseen.
func stops(k language.Key, o, n *language.Value) bool {
	switch {
	case k.Effect.Has(language.Breaks):
		return true
	case k.Effect.Has(language.Offers):
		return n == nil || o != nil && n.Number < o.Number
	case o == nil || n == nil:
		return false
	case k.Effect.Has(language.Promises):
		return promise.Weaker(k.Name, o, n)
	}
	wider := greatest(n) > greatest(o)
	if k.Type.Range {
		wider = n.Number < o.Number || n.High > o.High
	}
	return k.Effect.Has(language.Tolerates|language.SpreadsBoards) && wider
}

// greatest is a value's number, of a list the greatest.
func greatest(v *language.Value) float64 {
	most := v.Number
	for _, x := range v.Items {
		most = max(most, greatest(x))
	}
	return most
}

// sameNumber is how near, relative, two spellings of one quantity come out: a
// length divided by the speed of sound is rounded once more than a time.
const sameNumber = 1e-12

// alike reports whether two values mean the same, whatever their spelling and
// the order of their keys.
func alike(o, n *language.Value) bool {
	if o == nil || n == nil {
		return o == n
	}
	if o.Items != nil || n.Items != nil {
		return alikeLists(items(o), items(n))
	}
	close := func(x, y float64) bool {
		return x == y || math.Abs(x-y) <= sameNumber*math.Max(math.Abs(x), math.Abs(y))
	}
	if o.Word != n.Word && !bareZero(o, n) && !bareZero(n, o) || !close(o.Quantity(), n.Quantity()) || !close(o.High, n.High) ||
		len(o.Fields) != len(n.Fields) {
		return false
	}
	for _, f := range o.Fields {
		if !alike(f.Value, n.Get(f.Key)) {
			return false
		}
	}
	return true
}

// alikeLists compares lists: names in any order, as the order of an offer's is
// looked at by itself, and anything else in its own.
func alikeLists(o, n []*language.Value) bool {
	if len(o) != len(n) || slices.EqualFunc(o, n, alike) {
		return len(o) == len(n)
	}
	unnamed := func(v *language.Value) bool { return v.Word == "" }
	return !slices.ContainsFunc(o, unnamed) && !slices.ContainsFunc(n, unnamed) && lacking(o, n) == nil
}

// items are a list's, or the one that stands without brackets.
func items(v *language.Value) []*language.Value {
	switch {
	case v == nil:
		return nil
	case v.Items == nil:
		return []*language.Value{v}
	}
	return v.Items
}

// bareZero reports whether the word of z is that for no quantity of any unit,
// and v such a quantity.
func bareZero(z, v *language.Value) bool { return z.Word == "0" && v.Dim != "" && v.Number == 0 }

// lacking are the texts of those in a list that another has nothing like.
func lacking(list, other []*language.Value) (texts []string) {
	for _, x := range list {
		if !slices.ContainsFunc(other, func(y *language.Value) bool { return alike(x, y) }) {
			texts = append(texts, text(x))
		}
	}
	return texts
}

// text is a value as a spec writes it, without its defaults; "" for none.
func text(v *language.Value) string {
	switch {
	case v == nil:
		return ""
	case v.Items != nil:
		return "[" + strings.Join(texts(v.Items), ", ") + "]"
	case v.Fields != nil:
		var out []string
		for _, f := range v.Fields {
			if f.Value.Given {
				out = append(out, f.Key+": "+text(f.Value))
			}
		}
		return "{" + strings.Join(out, ", ") + "}"
	}
	return v.Text
}

func texts(list []*language.Value) (out []string) {
	for _, v := range list {
		out = append(out, text(v))
	}
	return out
}

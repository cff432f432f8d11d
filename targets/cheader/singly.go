package cheader

import (
	"fmt"
	"maps"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// States are what positions remember in the forms in use: all there are where no section is, as C has no
// empty struct.
func (h *header) States() []number.Variable {
	if len(h.forms()) == 0 {
		return h.Kernel.States
	}
	return slices.DeleteFunc(slices.Clone(h.Kernel.States), func(v number.Variable) bool {
		return !slices.ContainsFunc(h.forms(), func(f biquad.Form) bool { return slices.Contains(h.statesOf(h.Kernel.Section(f)), v) })
	})
}

// layout is what rows of the table of sections hold: the words in order, and how many of them those of a kind have.
type layout struct {
	words   []number.Variable
	lengths map[int]int
}

// layOut is that of the loops in use: all words there are where no section is. What more loops find stands in front of
// what fewer do, so that the rows of these end early.
func (h *header) layOut() layout {
	loops, out := h.loops(), layout{h.Kernel.Words, map[int]int{}}
	if len(loops) == 0 {
		return out
	}
	found, finders := map[int][]number.Variable{}, map[string]int{}
	for _, l := range loops {
		found[l.Kind] = h.wordsOf(l.Program)
		for _, v := range found[l.Kind] {
			finders[v.Name]++
		}
	}
	out.words = slices.DeleteFunc(slices.Clone(h.Kernel.Words), func(v number.Variable) bool { return finders[v.Name] == 0 })
	slices.SortStableFunc(out.words, func(a, b number.Variable) int { return finders[b.Name] - finders[a.Name] })
	for kind, of := range found {
		for _, v := range of {
			out.lengths[kind] = max(out.lengths[kind], 1+slices.Index(out.words, v))
		}
	}
	return out
}

// Words are those of a row, WordAt is where it has one.
func (h *header) Words() []number.Variable     { return h.rows.words }
func (h *header) WordAt(v number.Variable) int { return slices.Index(h.rows.words, v) }

// rowLength is how many words a row of a kind has: all, where no loop runs it.
func (h *header) rowLength(kind int) int {
	if n, runs := h.rows.lengths[kind]; runs {
		return n
	}
	return len(h.rows.words)
}

// RowLengths are those that there are, in ascending order.
func (h *header) RowLengths() []int {
	return slices.Compact(slices.Sorted(maps.Values(h.rows.lengths)))
}

// LengthOf is C's expression for the length of the rows of a list's word.
func (h *header) LengthOf(word string) string {
	lengths := h.RowLengths()
	out := fmt.Sprintf("%du", lengths[len(lengths)-1])
	for _, l := range h.loops() {
		if n := h.rowLength(l.Kind); n < lengths[len(lengths)-1] {
			out = fmt.Sprintf("((%s >> %s_HEAD & %du) == %du ? %du : %s)", word, h.Upper, h.KindMask(), l.Kind, n, out)
		}
	}
	return out
}

// statesOf are those that a program has.
func (k kernel) statesOf(p number.Program) []number.Variable {
	return slices.DeleteFunc(slices.Clone(k.Kernel.States), func(v number.Variable) bool {
		return !slices.ContainsFunc(p, func(s number.Step) bool { return s.To == v.Name })
	})
}

// wordsOf are the words of a row that a program finds.
func (k kernel) wordsOf(p number.Program) []number.Variable {
	return slices.DeleteFunc(slices.Clone(k.Kernel.Words), func(v number.Variable) bool {
		return !slices.ContainsFunc(p, func(s number.Step) bool { return finds(s.Tree(), v.Name) })
	})
}

// finds reports that a tree has a name.
func finds(n number.Node, name string) bool {
	return n.Op == "" && n.Leaf == name || slices.ContainsFunc(n.Args, func(a number.Node) bool { return finds(a, name) })
}

// Single reports that a loop takes one section, and a word of a list several loops.
func (k kernel) Single() bool { return k.longestPass() == 1 }

// longestRun is how many sections a word of a list has at most.
func (k kernel) longestRun() int {
	if k.Single() {
		return 1<<countBits - 1
	}
	return k.longestPass()
}

// Unity is the gain that changes no word, as words of whole times that are multiplied without rounding;
// empty of floating point, where a product is as cheap.
func (k kernel) Unity() string {
	if k.GuardBits == 0 {
		return ""
	}
	return k.Literal(1)
}

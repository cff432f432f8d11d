package cheader

import (
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

// Words are what a row holds for the forms in use: all there are where no section is.
func (h *header) Words() []number.Variable {
	if len(h.forms()) == 0 {
		return h.Kernel.Words
	}
	return slices.DeleteFunc(slices.Clone(h.Kernel.Words), func(v number.Variable) bool {
		return !slices.ContainsFunc(h.forms(), func(f biquad.Form) bool { return slices.Contains(h.wordsOf(h.Kernel.Section(f)), v) })
	})
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

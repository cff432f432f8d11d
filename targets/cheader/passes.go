package cheader

import (
	"fmt"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// loop is what takes samples through sections of one kind.
type loop struct {
	Form    biquad.Form
	Kind    int
	Name    string
	Program number.Program
}

// bareKind is how tables call rows that have a program of Kernel.Bare. Formats with the
// mirrored form, which tables call the same, have none.
const bareKind = 2

// bare is the program of a form's rows without b1 and b2; nil where they have none of their own.
func (k kernel) bare(f biquad.Form) number.Program {
	if k.Single() || slices.Contains(k.Forms, biquad.Mirrored) {
		return nil
	}
	return k.Kernel.Bare[f]
}

// kind is how tables call a row; 0 where it is not run.
func (k kernel) kind(r number.Row) int {
	switch {
	case r.Through():
		return 0
	case r.B1 == 0 && r.B2 == 0 && k.bare(r.Form) != nil:
		return bareKind
	}
	return kindOf[r.Form]
}

// loops are those that lists name.
func (h *header) loops() []loop {
	var out []loop
	for _, f := range h.forms() {
		l := loop{f, kindOf[f], formName(f), h.Kernel.Section(f)}
		if h.longest[l.Kind] > 0 {
			out = append(out, l)
		}
		if p := h.bare(f); p != nil && h.longest[bareKind] > 0 {
			out = append(out, loop{f, bareKind, l.Name + " without b1 and b2", p})
		}
	}
	return out
}

// Alone is the gain that a list without passes is, of *from.
func (k kernel) Alone() []string {
	return k.statements(k.Kernel.Gain, map[string]string{"x": "*from"}, map[string]string{"x": "*to"})
}

// shared are the words and states that the first sections of all passes have: code has them once.
func shared(passes []pass) (words, states []number.Variable) {
	for i, p := range passes {
		if i == 0 {
			words, states = p.Words, p.States
		}
		words, states = without(words, without(words, p.Words)), without(states, without(states, p.States))
	}
	return words, states
}

// FirstLoads and FirstStores are of those.
func (h *header) FirstLoads() []string {
	words, states := shared(h.Passes())
	return h.loads(0, 0, words, states)
}

func (h *header) FirstStores() []string {
	_, states := shared(h.Passes())
	return stores(0, states)
}

// without are those of v that are not among others.
func without(v, others []number.Variable) []number.Variable {
	return slices.DeleteFunc(slices.Clone(v), func(v number.Variable) bool { return slices.Contains(others, v) })
}

// loads are C's statements that take words and states of section j of a pass into registers, where rows are so many
// words long; stores those that put states back.
func (h *header) loads(j, length int, words, states []number.Variable) []string {
	var out []string
	for _, w := range words {
		out = append(out, fmt.Sprintf("const %s %s_%d = w[%d];", h.Type(), w.Name, j, j*length+h.WordAt(w)))
	}
	for _, s := range states {
		out = append(out, fmt.Sprintf("%s %s_%d = m[%d].%s;", s.Type.Name, s.Name, j, j, s.Name))
	}
	return out
}

func stores(j int, states []number.Variable) []string {
	var out []string
	for _, s := range states {
		out = append(out, fmt.Sprintf("m[%d].%s = %s_%d;", j, s.Name, s.Name, j))
	}
	return out
}

// Chained reports that passes take gains along, from one place to another.
func (h *header) Chained() bool { return h.Sections() && !h.Single() }

// Copies reports that the input needs nothing but a gain, which the first pass has.
func (h *header) Copies() bool { return h.Chained() && copies(h.Kernel.Take, "x", "in") }

// Plain reports that the common part is a gain at every rate, which is multiplied where the input is looked at.
func (h *header) Plain() bool { return !h.CommonRuns }

// One is the gain that changes nothing.
func (k kernel) One() string { return k.Literal(1) }

// longestOf is how many sections of a kind a pass takes at most.
func (k kernel) longestOf(kind int) int {
	if kind == bareKind && !slices.Contains(k.Forms, biquad.Mirrored) {
		return k.longestPass() + 1
	}
	return k.longestPass()
}

// list is the words of one cascade's list, one a pass: the row of its first section,
// how many it takes, and their kind, which is that of the rows from there on. 0 ends it.
func (h *header) list(kinds, rows []int) []int {
	var out []int
	for len(rows) > 0 {
		kind, n := h.first(kinds, rows)
		out = append(out, rows[0]|kind<<h.RowBits|n<<h.CountShift())
		for _, row := range rows[:n] {
			kinds[row] = kind
		}
		h.longest[kind] = max(h.longest[kind], n)
		h.heads[n<<h.KindBits()|kind] = h.heads[n<<h.KindBits()|kind] || len(out) == 1
		rows = rows[n:]
	}
	return append(out, 0)
}

// first is the first pass of those that take rows through with the fewest instructions.
func (h *header) first(kinds, rows []int) (kind, count int) {
	if h.Single() {
		for count < len(rows) && count < h.longestRun() && kinds[rows[count]] == kinds[rows[0]] && rows[count] == rows[0]+count {
			count++
		}
		return kinds[rows[0]], count
	}
	type way struct{ cost, kind, count int }
	best := make([]way, len(rows)+1) // of all from there on
	for i := len(rows) - 1; i >= 0; i-- {
		for _, kind := range []int{kinds[rows[i]], kindOf[biquad.Delta]} {
			for n := 1; n <= h.longestOf(kind) && i+n <= len(rows) && rows[i+n-1] == rows[i]+n-1 && fits(kinds[rows[i+n-1]], kind); n++ {
				if cost := h.cost(kind, n) + best[i+n].cost; best[i].count == 0 || cost < best[i].cost {
					best[i] = way{cost, kind, n}
				}
			}
		}
	}
	return best[0].kind, best[0].count
}

// fits reports that rows of a kind can go through a loop of another.
func fits(row, kind int) bool {
	return row == kind || row == bareKind && kind == kindOf[biquad.Delta]
}

// cost is how many instructions a pass takes a sample: its operators, and what load, store, gain, the
// loop and a block of 32 samples take.
func (k kernel) cost(kind, n int) int {
	const each = 6
	p := k.bare(biquad.Delta)
	if kind != bareKind || p == nil {
		p = k.Kernel.Section(formOf(kind))
	}
	operators := 0
	for _, s := range p {
		operators += count(s.Tree())
	}
	return each + n*operators
}

// formOf is the form that tables call so.
func formOf(kind int) biquad.Form {
	return formsInOrder[slices.IndexFunc(formsInOrder, func(f biquad.Form) bool { return kindOf[f] == kind })]
}

// count is the operators of a tree.
func count(n number.Node) int {
	if n.Op == "" {
		return 0
	}
	all := 1
	for _, a := range n.Args {
		all += count(a)
	}
	return all
}

// mayJoin notes the passes that lists of what settings pick may come to: words of rows that follow
// each other, position by position, are made one.
func (h *header) mayJoin(positions []switched) {
	most := map[int]int{} // of the word of a row, the longest that may end with it
	for _, p := range positions {
		for k := len(p.words) - 1; k >= 0; k-- {
			w := p.words[k]
			kind := w >> h.RowBits & h.KindMask()
			most[w] = max(most[w], min(most[w-1]+1, h.longestRun()))
			for n := 1; n <= most[w]; n++ {
				h.heads[n<<h.KindBits()|kind] = h.heads[n<<h.KindBits()|kind]
			}
			h.longest[kind] = max(h.longest[kind], most[w])
		}
	}
}

package cheader

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad/number"
)

// words are a row's literals, of what rows of its kind hold.
func (h *header) words(r number.Row, kind int) string {
	all := h.Literals(r)
	var out []string
	for _, v := range h.Words()[:h.rowLength(kind)] {
		out = append(out, all[slices.Index(h.Kernel.Words, v)])
	}
	return h.folded(out, "\n      ")
}

// RowsTold says what a row is.
func (h *header) RowsTold() []string {
	var names []string
	for _, w := range h.Words() {
		names = append(names, w.Name)
	}
	text := strings.Join(names, ", ") + " of every section"
	for _, l := range h.loops() {
		if n := h.rowLength(l.Kind); n < len(names) {
			text += fmt.Sprintf(", %s: the first %d", l.Name, n)
			if l.Kind == bareKind && h.shortConstants {
				text += ", as of constants"
			}
		}
	}
	return wrap(text+". Above each:", proseWidth)
}

// folded joins what stands for the words of a row: on two lines where words are
// long, the second of which begins with next.
func (h *header) folded(s []string, next string) string {
	const short, onFirst = 4, 3 // bytes; words
	if h.C.Type.Bytes > short && len(s) > onFirst {
		return strings.Join(s[:onFirst], ", ") + "," + next + strings.Join(s[onFirst:], ", ")
	}
	return strings.Join(s, ", ")
}

// Once reports that all rates have the same positions and switches: tables hold them once.
func (t tables) Once() bool {
	return !slices.ContainsFunc(t.Rates, func(r rate) bool {
		return !slices.Equal(r.PositionLines, t.Rates[0].PositionLines) || !slices.Equal(r.SwitchLines, t.Rates[0].SwitchLines)
	})
}

// PositionTable and SwitchTable are where C finds them.
func (h *header) PositionTable() string {
	if h.Once() {
		return h.Stem + "_position_table"
	}
	return "rate->positions"
}

func (h *header) SwitchTable() string {
	if h.Once() {
		return h.Stem + "_switch_table"
	}
	return "rate->switches"
}

// printRows turns rows into lines. Words of lists count rows until it is known how long each is, and words of the
// table from here on.
func (h *header) printRows(r *rate) {
	var begin []int // of each row
	for i := range r.Rows {
		out := &r.Rows[i]
		if !out.is.Through() || len(r.kinds) > 0 && r.kinds[0] == 0 {
			kind := r.kinds[len(begin)]
			begin = append(begin, r.words)
			r.words += h.rowLength(kind)
			out.Words = h.words(out.is, kind)
		}
		if last := out.Words[strings.LastIndex(out.Words, "\n")+1:]; last == "" || len(last)+len(out.Choice) > rowWidth {
			out.Above, out.Choice = append(out.Above, wrap(out.Choice, aboveWidth)...), ""
		}
	}
	for i := range r.Rows {
		r.Rows[i].Comma = comma(slices.ContainsFunc(r.Rows[i+1:], func(later row) bool { return later.Words != "" }))
	}
	for i, w := range r.lists {
		if row := w & (1<<h.RowBits - 1); w != 0 {
			r.lists[i] = w - row + begin[row]
		}
	}
}

// print turns the tables into lines.
func (h *header) print() {
	h.rows = h.layOut()
	for i := range h.Rates {
		r := &h.Rates[i]
		h.printRows(r)
		r.PositionLines, r.ListLines = numbers(r.positions), numbers(r.lists)
		for k, c := range r.cascades {
			if h.Sections() && h.Steps() != nil {
				c.line += fmt.Sprintf(" %s_FORMS(0x%0*xu)", h.Upper, h.tableBits()/4, h.formsOf(c.list, h.tableBits()))
			}
			if h.WholeSteps() != nil {
				c.line += fmt.Sprintf(" %s_FORMS(%s)", h.Upper, h.wholeFormsLine(c.list))
			}
			r.Cascades = append(r.Cascades, fmt.Sprintf("{ %s }%s /* %s */", c.line, comma(k < len(r.cascades)-1), c.name))
		}
		for k, p := range r.switches {
			var stride []string
			for _, s := range p.stride {
				stride = append(stride, fmt.Sprintf("%du", s))
			}
			r.SwitchLines = append(r.SwitchLines, fmt.Sprintf("{ %du, %du, { %s } }%s", p.word, p.pick, strings.Join(stride, ", "), comma(k < len(r.switches)-1)))
		}
	}
	h.PickLines = numbers(h.Picks)
}

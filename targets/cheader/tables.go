package cheader

import (
	"fmt"
	"math"
	"slices"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/words"
)

// tables are the header's constants, each rate's by itself so that a program may
// leave rates out, and the alternatives that combinations pick.
type tables struct {
	Picks                       []uint8
	PickLines                   []string
	Rates                       []rate
	index                       number.CType // of what numbers rows and picks
	RowBits                     int          // of it
	Positions, Then, DelayWords int
	longestWay                  int     // sections of a way, the most of a rate
	lateWays                    uint32  // a bit for each that is late at some rate
	Switches                    int     // positions that settings change, the most of a rate
	Whole                       bool    // the common part keeps such at a rate, so that all of the ways run twice during a change
	mostCommon                  float64 // of the common part's gains at all rates
	CommonRuns                  bool    // the common part has sections at a rate
	shortConstants              bool    // rows that are constants have the kind of those without b1 and b2
	rows                        layout
	kinds                       map[int]bool
	longest                     map[int]int  // of each kind, the most sections that a pass takes
	heads                       map[int]bool // the passes of lists, kind and count: whether one is the first, which has the gain
}

// RowCount, WordCount, PositionCount, ListCount and SwitchCount are how many the tables have.
func (r rate) RowCount() int      { return len(r.kinds) }
func (r rate) WordCount() int     { return r.words }
func (r rate) PositionCount() int { return len(r.positions) }
func (r rate) ListCount() int     { return len(r.lists) }
func (r rate) SwitchCount() int   { return len(r.switches) }

// row is one row of the section table; without words only comments.
type row struct {
	Above         []string
	Words, Choice string // the choice stands behind the words, or above where there is no room
	Comma         string

	is number.Row
}

// rate is the tables of one rate.
type rate struct {
	Hz                                    uint64
	Rows                                  []row
	PositionLines, SwitchLines, ListLines []string
	Settle, Fade                          int
	Step                                  string
	Cascades                              []string

	kinds     []int // of the rows, as they are run
	words     int   // of all rows
	cascades  []cascade
	lists     []int // of what always runs
	positions []int // those that settings change: numbers of switches
	switches  []switched
}

// cascade is a row of a rate's cascades: its text but for the forms, and the list of what always runs.
type cascade struct {
	line, name string
	list       []int
}

// switched is what a table holds of a position with alternatives: where the words of lists
// for its rows begin, and where the picks do.
type switched struct {
	word, pick int
	stride     []int
	slot       biquad.Slot[biquad.Digital] // the position
	words      []int                       // one a row
}

// rowWidth is the room for words and choice on a line of 100 columns,
// aboveWidth that of a comment above a row.
const rowWidth, aboveWidth = 82, 90

// Index is the C type that numbers rows and picks.
func (t tables) Index() string { return t.index.Name }

// usesKind reports whether a section that is run is of a kind.
func (t tables) usesKind(kind int) bool { return t.kinds[kind] }

// Sections is false for a loudspeaker of gains and delays alone.
func (t tables) Sections() bool { return len(t.kinds) > 0 }

// Where a row's kind, and how many a pass takes, stand in a word of a list: behind the
// row's bits.
func (t tables) RowMask() string  { return fmt.Sprintf("0x%xu", 1<<t.RowBits-1) }
func (h *header) CountShift() int { return h.RowBits + h.KindBits() }
func (t tables) NoRow() int       { return noRow }

// noRow is what picks say of an alternative that changes nothing.
const noRow = 255

// Small numbers positions, and what they are; Delays samples of delay, Stride what picks are
// apart, Pick where they begin.
func (t tables) Small() string {
	return narrowest(max(t.Positions+t.Then+t.Switches, t.longestLists()), "int8_t", "int16_t", "int32_t")
}
func (t tables) Delays() string {
	return narrowest(t.DelayWords/2, "unsigned char", "uint16_t", "uint32_t")
}

// Counter counts the samples of a change and of a fade.
func (t tables) Counter() string {
	return narrowest(t.longestChange(), "int16_t", "int16_t", "int32_t")
}

func (t tables) longestChange() int {
	most := 0
	for _, r := range t.Rates {
		most = max(most, r.Settle+r.Fade+number.Tick)
	}
	return most
}

// Twice is where a cascade runs twice during a change.
func (t tables) Twice() string {
	if t.Whole {
		return "cascade->then >= 0"
	}
	return "cascade->end > cascade->first"
}

// Span is C's expression for the longest delay at a rate.
func (t tables) Span() string { return "rate->cascade[0].delay" }

// ListEnd is what running a list returns: where settings pick some, the list behind it. Ignored stands in front of a call
// of which that is not needed.
func (h *header) ListEnd() string {
	if h.Then > 0 {
		return "const " + h.Index() + " *"
	}
	return "void"
}

func (h *header) Ignored() string {
	if h.Then > 0 {
		return "(void)"
	}
	return ""
}

func (t tables) Pick() string {
	return narrowest(max(len(t.Picks), t.longestLists())/2, "unsigned char", "uint16_t", "uint32_t")
}

func (t tables) longestLists() int {
	most := 0
	for _, r := range t.Rates {
		most = max(most, len(r.lists))
	}
	return most
}

func (t tables) PositionType() string {
	return narrowest(t.Switches/2, "unsigned char", "uint16_t", "uint32_t")
}

// narrowest is the first type where it holds n, with a bit to spare.
func narrowest(n int, smallest, small, large string) string {
	switch {
	case n < 1<<7:
		return smallest
	case n < 1<<15:
		return small
	}
	return large
}

// countBits is for how many sections a pass takes: with the kind they leave the row the
// other bits of a list's words.
const countBits, greatestIndex16 = 3, 1<<16 - 1

// addTables makes the tables of all rates. An error says which rates whole
// hertz do not tell apart.
func (h *header) addTables(b *compiler.Build, made []compiler.Digital) error {
	h.kinds, h.longest, h.heads = map[int]bool{}, map[int]int{}, map[int]bool{}
	h.findKinds(made)
	most, picks := 0, 0
	for _, d := range made {
		h.Whole = h.Whole || number.DoubledOf(d.System)[0].Twice
		rows := 0
		h.DelayWords = max(h.DelayWords, slices.Max(number.Late(d.System, d.RateHz)))
		for _, c := range cascades(d) {
			for _, s := range c.Slots {
				rows += len(s.Alt)
				picks += len(s.Pick)
			}
		}
		most = max(most, rows)
	}
	h.index, h.RowBits = number.CType{Name: "uint16_t", Bytes: 2}, 16-countBits-h.KindBits()
	most *= len(h.Kernel.Words)
	if most >= 1<<h.RowBits || picks > greatestIndex16 {
		h.index, h.RowBits = number.CType{Name: "uint32_t", Bytes: 4}, 32-countBits-h.KindBits()
	}
	for _, d := range made {
		hz := wholeHz(d.RateHz)
		for _, other := range h.Rates {
			if other.Hz == hz {
				return fmt.Errorf("two sampling rates round to %d Hz; the header's init takes whole hertz", hz)
			}
		}
		h.addRate(b, d)
	}
	// C has no arrays of nothing.
	h.Positions = max(h.Positions, 1)
	if len(h.Picks) == 0 {
		h.Picks = []uint8{0}
	}
	h.print()
	return nil
}

// findKinds notes the kinds of all rows. Constants stand as rows without b1 and b2, the shortest, where there are others
// of these: with states of zero that is the same product, to the bit.
func (h *header) findKinds(made []compiler.Digital) {
	var constants []number.Row
	for _, d := range made {
		for _, c := range cascades(d) {
			for _, s := range c.Slots {
				for _, w := range number.Rows(s) {
					if w.Constant() && !w.Through() {
						constants = append(constants, w)
					} else {
						h.addKind(w)
					}
				}
			}
		}
	}
	h.shortConstants = len(constants) > 0 && h.kinds[bareKind] && h.bare(biquad.Delta) != nil
	for _, w := range constants {
		h.addKind(w)
	}
}

// addRate makes the tables of one rate.
func (h *header) addRate(b *compiler.Build, d compiler.Digital) {
	r := rate{Hz: wholeHz(d.RateHz), Settle: number.SettleSamples(d.System), Fade: number.FadeSamples(b.Spec.Digital.FadeS, d.RateHz)}
	r.Step = h.Literal(1 / float64(r.Fade))
	late := number.Late(d.System, d.RateHz)
	h.noteLate(late)
	late[0] = slices.Max(late) // the common part waits for nothing
	then, memory := 0, 0
	twice := number.DoubledOf(d.System)
	lists := make([][]int, len(twice))
	var always []int // rows of each
	for i, c := range cascades(d) {
		rows := h.addFixed(b, &r, place{d, i, 0}, c.Slots[:twice[i].Fixed])
		always, lists[i] = append(always, len(rows)), h.list(r.kinds, rows)
	}
	fixedRows := r.RowCount()
	firsts := h.addPicked(b, &r, d, twice)
	for i, c := range cascades(d) {
		list, fixed := len(r.lists), twice[i].Fixed
		r.lists = append(r.lists, lists[i]...)
		gain, name := d.Format.InputWord(d.System, d.InputGain), "common"
		if i > 0 {
			w := d.System.Ways[i-1]
			gain, name = d.Format.WayWord(w), words.Comment(w.Name)
		}
		if i == 0 {
			h.mostCommon = max(h.mostCommon, math.Abs(gain))
		}
		line := h.Literal(gain)
		if h.DelayWords > 0 {
			line += fmt.Sprintf(", %du", late[i])
		}
		if h.Sections() {
			line += fmt.Sprintf(", %d, %d", list, memory)
		}
		if h.Sections() && len(h.Settings) > 0 {
			at := -1
			if twice[i].Twice {
				at = then
				then += len(c.Slots) - fixed
				if twice[i].From < fixed {
					then += always[i]
				}
			}
			line += fmt.Sprintf(", %d, %d, %d", fixedRows+firsts[i], firsts[i], firsts[i+1])
			if h.Whole {
				line += fmt.Sprintf(", %d", at)
			}
		}
		sections := always[i] + len(c.Slots) - fixed
		memory += always[i]
		if i > 0 {
			h.longestWay = max(h.longestWay, sections)
		}
		h.CommonRuns = h.CommonRuns || i == 0 && sections > 0
		r.cascades = append(r.cascades, cascade{line, name, lists[i][:len(lists[i])-1]})
	}
	memory += len(r.positions)
	if r.RowCount() == 0 { // C has no arrays of nothing
		r.Rows = []row{{is: number.Row{B0: 1}, Above: []string{"no sections at all: unused"}}}
		r.kinds = []int{0}
	}
	h.Switches = max(h.Switches, len(r.positions))
	if len(r.positions) == 0 {
		r.positions, r.switches = []int{0}, []switched{{stride: make([]int, len(b.Settings))}}
	}
	h.Positions, h.Then = max(h.Positions, memory), max(h.Then, then)
	h.Rates = append(h.Rates, r)
}

// addPicked writes the positions that settings change, and the words of lists for their rows. What returns is which is
// the first of each cascade, and how many there are.
func (h *header) addPicked(b *compiler.Build, r *rate, d compiler.Digital, twice []number.Doubled) []int {
	var firsts []int
	for i, c := range cascades(d) {
		firsts = append(firsts, len(r.positions))
		for k, s := range c.Slots[twice[i].Fixed:] {
			r.positions = append(r.positions, h.addSwitched(b, r, place{d, i, twice[i].Fixed + k}, s))
		}
		var picked []switched
		for _, p := range r.positions[firsts[i]:] {
			picked = append(picked, r.switches[p])
		}
		h.mayJoin(picked)
	}
	for i := range r.switches { // in front of what always runs, so that they stand at the same places at all rates
		r.switches[i].word = len(r.lists)
		r.lists = append(r.lists, r.switches[i].words...)
	}
	return append(firsts, len(r.positions))
}

// addKind is a row's kind, 0 where it is not run.
func (h *header) addKind(r number.Row) int {
	kind := h.kind(r)
	if kind != 0 && h.shortConstants && r.Constant() {
		kind = bareKind
	}
	if kind != 0 {
		h.kinds[kind] = true
	}
	return kind
}

// word is that of a list for one row.
func (h *header) word(kinds []int, row int) int {
	return row | kinds[row]<<h.RowBits | 1<<h.CountShift()
}

// addFixed writes the rows of positions that always run, from at on, and tells which they are.
// What changes nothing has none.
func (h *header) addFixed(b *compiler.Build, r *rate, at place, slots []biquad.Slot[biquad.Digital]) []int {
	var rows []int
	for _, s := range slots {
		if stored := h.addRows(b, r, at, s); stored[0] != noRow {
			rows = append(rows, r.RowCount()-1)
		}
		at.k++
	}
	return rows
}

// addSwitched writes the alternatives of a position, and tells which switch it is. One that
// stands in several ways is written once.
func (h *header) addSwitched(b *compiler.Build, r *rate, at place, s biquad.Slot[biquad.Digital]) int {
	for i, other := range r.switches {
		if samePosition(other.slot, s) {
			return i
		}
	}
	first := r.RowCount()
	stored := h.addRows(b, r, at, s)
	sw := switched{slot: s}
	for row := first; row < r.RowCount(); row++ {
		sw.words = append(sw.words, h.word(r.kinds, row))
	}
	sw.pick, sw.stride = h.picks(s, stored, len(b.Settings))
	r.switches = append(r.switches, sw)
	return len(r.switches) - 1
}

// addRows writes the alternatives of a position, and tells their rows, from the first on. What
// changes nothing has none.
func (h *header) addRows(b *compiler.Build, r *rate, at place, s biquad.Slot[biquad.Digital]) []uint8 {
	first := r.RowCount()
	stored := make([]uint8, len(s.Alt))
	for i, w := range number.Rows(s) {
		stored[i] = noRow
		out := row{is: w}
		if !w.Through() {
			stored[i] = uint8(r.RowCount() - first)
		}
		if i == 0 {
			out.Above = wrap(words.Comment(about(b, at, s)), aboveWidth)
		}
		if len(s.Alt) > 1 {
			out.Choice = words.Comment(aboutChoice(b, at, s, i))
		}
		r.Rows = append(r.Rows, out)
		if !w.Through() {
			r.kinds = append(r.kinds, h.addKind(w))
		}
	}
	return stored
}

// cascades are the common one and the ways' in order.
func cascades(d compiler.Digital) []biquad.Cascade[biquad.Digital] {
	out := []biquad.Cascade[biquad.Digital]{d.System.Common}
	for _, w := range d.System.Ways {
		out = append(out, w.Cascade)
	}
	return out
}

// picks stores a position's picks, or finds the same ones stored before, and
// gives the distance that each setting's choices are apart there. stored are the
// alternatives' rows.
func (h *header) picks(s biquad.Slot[biquad.Digital], stored []uint8, settings int) (at int, stride []int) {
	stride = make([]int, settings)
	var pick []uint8
	for _, alt := range s.Pick {
		pick = append(pick, stored[alt])
	}
	step := 1
	for i := len(s.By) - 1; i >= 0; i-- {
		stride[s.By[i].Setting] = step
		step *= s.By[i].Choices
	}
	for at = 0; at+len(pick) <= len(h.Picks); at++ {
		if slices.Equal(h.Picks[at:at+len(pick)], pick) {
			return at, stride
		}
	}
	at = len(h.Picks)
	h.Picks = append(h.Picks, pick...)
	return at, stride
}

package cheader

import (
	"fmt"
	"slices"
	"strings"

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
	kinds                       map[int]bool
}

// RowCount, PositionCount and ListCount are how many the tables have.
func (r rate) RowCount() int      { return len(r.kinds) }
func (r rate) PositionCount() int { return len(r.positions) }
func (r rate) ListCount() int     { return len(r.lists) }

// row is one line of the section table; without words only comments.
type row struct {
	Above         []string
	Words, Choice string // the choice stands behind the words, or above where there is no room
	Comma         string
}

// rate is the tables of one rate.
type rate struct {
	Hz                                               uint64
	Rows                                             []row
	KindLines, PositionLines, SwitchLines, ListLines []string
	Settle, Fade                                     int
	Step                                             string
	Cascades                                         []string

	kinds, positions, lists []int
	switches                []switched
}

// switched is what a table holds of a position with alternatives.
type switched struct {
	row, pick int
	stride    []int
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

// Kinds are where a row's kind, how many a pass takes and the mark of a position
// with alternatives stand in a word of a list: behind the row's bits.
func (t tables) RowMask() string  { return fmt.Sprintf("0x%xu", 1<<t.RowBits-1) }
func (h *header) CountShift() int { return h.RowBits + h.KindBits() }
func (t tables) NoRow() int       { return noRow }
func (t tables) Switched() string { return fmt.Sprintf("0x%xu", 1<<(8*t.index.Bytes-1)) }

// noRow is what picks say of an alternative that changes nothing.
const noRow = 255

// Small numbers positions, and what they are; Delays, samples of delay.
func (t tables) Small() string  { return narrowest(2*t.Positions+t.Then, "int16_t", "int32_t") }
func (t tables) Delays() string { return narrowest(t.DelayWords, "uint16_t", "uint32_t") }

// narrowest is the first type where it holds n, signed or not.
func narrowest(n int, small, large string) string {
	if n < 1<<15 {
		return small
	}
	return large
}

// countBits is for how many sections a pass takes: with the kind they leave the row the
// other bits of a list's words.
const countBits, greatestIndex16 = 2, 1<<16 - 1

// addTables makes the tables of all rates. An error says which rates whole
// hertz do not tell apart.
func (h *header) addTables(b *compiler.Build, made []compiler.Digital) error {
	h.kinds = map[int]bool{}
	delays := make([]int, 1+len(h.Ways)) // the longest of each cascade, in samples
	most, picks := 0, 0
	for _, d := range made {
		rows := 0
		for i, c := range cascades(d) {
			delays[i] = max(delays[i], number.DelaySamples(c, d.RateHz))
			for _, s := range c.Slots {
				rows += len(s.Alt)
				picks += len(s.Pick)
				for _, w := range number.Rows(s) {
					h.addKind(w)
				}
			}
		}
		most = max(most, rows)
	}
	h.index, h.RowBits = number.CType{Name: "uint16_t", Bytes: 2}, 16-countBits-h.KindBits()
	if most >= 1<<h.RowBits || picks > greatestIndex16 {
		h.index, h.RowBits = number.CType{Name: "uint32_t", Bytes: 4}, 32-countBits-h.KindBits()
	}
	for _, n := range delays {
		h.DelayWords += n
	}
	for _, d := range made {
		hz := wholeHz(d.RateHz)
		for _, other := range h.Rates {
			if other.Hz == hz {
				return fmt.Errorf("two sampling rates round to %d Hz; the header's init takes whole hertz", hz)
			}
		}
		h.addRate(b, d, delays)
	}
	// C has no arrays of nothing.
	h.Positions = max(h.Positions, 1)
	if len(h.Picks) == 0 {
		h.Picks = []uint8{0}
	}
	h.print()
	return nil
}

// addRate makes the tables of one rate.
func (h *header) addRate(b *compiler.Build, d compiler.Digital, delays []int) {
	r := rate{Hz: wholeHz(d.RateHz), Settle: number.SettleSamples(d.System), Fade: number.FadeSamples(b.Spec.Digital.FadeS, d.RateHz)}
	r.Step = h.Literal(1 / float64(r.Fade))
	then, delayAt := 0, 0
	twice := number.DoubledOf(d.System)
	for i, c := range cascades(d) {
		from := len(r.positions)
		r.positions = append(r.positions, make([]int, len(c.Slots))...)
		for _, k := range inTable(c.Slots) {
			r.positions[from+k] = h.addPosition(b, &r, place{d, i, k}, c.Slots[k])
		}
		to := len(r.positions)
		gain, name := d.Format.InputWord(d.System, d.InputGain), "common"
		if i > 0 {
			w := d.System.Ways[i-1]
			gain, name = d.Format.WayWord(w), words.Comment(w.Name)
		}
		line := h.Literal(gain) + ", "
		if h.DelayWords > 0 {
			line += fmt.Sprintf("%du, %du, ", number.DelaySamples(c, d.RateHz), delayAt)
		}
		delayAt += delays[i]
		if !h.Sections() {
			line = strings.TrimSuffix(line, ", ")
		} else if len(h.Settings) == 0 {
			line += fmt.Sprintf("%d, %d", from, len(r.lists))
			r.lists = append(r.lists, h.list(r.kinds, r.positions[from:to])...)
		} else {
			at := -1
			if twice[i].Twice {
				at = then
				then += to - from - twice[i].From
			}
			line += fmt.Sprintf("%d, %d, %d, %d", from, from+twice[i].From, to, at)
		}
		r.Cascades = append(r.Cascades, fmt.Sprintf("{ %s }%s /* %s */", line, comma(i < len(h.Ways)), name))
	}
	if r.RowCount() == 0 { // C has no arrays of nothing
		r.Rows = []row{{Words: h.words(number.Row{B0: 1}), Above: []string{"no sections at all: unused"}}}
		r.kinds, r.positions = []int{0}, []int{0}
	}
	if len(r.switches) == 0 {
		r.switches = []switched{{stride: make([]int, len(b.Settings))}}
	}
	h.Positions, h.Then = max(h.Positions, len(r.positions)), max(h.Then, then)
	h.Rates = append(h.Rates, r)
}

// addKind is a row's kind, 0 where it is not run.
func (h *header) addKind(r number.Row) int {
	if r.Through() {
		return 0
	}
	h.kinds[kindOf[r.Form]] = true
	return kindOf[r.Form]
}

// list is the words of one cascade's list, one a pass: the row of its first section,
// how many it takes, and their kind. 0 ends it.
func (h *header) list(kinds, rows []int) []int {
	var out []int
	last, next := 0, 0
	for _, row := range rows {
		kind := kinds[row]
		at := len(out) - 1
		switch {
		case kind == 0:
			continue
		case at >= 0 && kind == last && row == next && out[at]>>h.CountShift() < h.longestPass():
			out[at] += 1 << h.CountShift()
		default:
			out = append(out, row|kind<<h.RowBits|1<<h.CountShift())
		}
		last, next = kind, row+1
	}
	return append(out, 0)
}

// inTable is the order of a cascade's rows: those that always run first, so that
// they are neighbours also where what is between them changes nothing.
func inTable(slots []biquad.Slot[biquad.Digital]) []int {
	var fixed, switched []int
	for k, s := range slots {
		if len(s.By) == 0 {
			fixed = append(fixed, k)
		} else {
			switched = append(switched, k)
		}
	}
	return append(fixed, switched...)
}

// addPosition writes the alternatives of a position, and tells where they are.
func (h *header) addPosition(b *compiler.Build, r *rate, at place, s biquad.Slot[biquad.Digital]) int {
	first := r.RowCount()
	stored := make([]uint8, len(s.Alt)) // the alternatives' rows, from first on
	for i, w := range number.Rows(s) {
		stored[i] = noRow
		out := row{}
		if !w.Through() || len(s.Alt) == 1 {
			stored[i] = uint8(r.RowCount() - first)
			out.Words = h.words(w)
		}
		if i == 0 {
			out.Above = wrap(words.Comment(about(b, at, s)), aboveWidth)
		}
		if len(s.Alt) > 1 {
			out.Choice = words.Comment(aboutChoice(b, at, s, i))
			if last := out.Words[strings.LastIndex(out.Words, "\n")+1:]; last == "" || len(last)+len(out.Choice) > rowWidth {
				out.Above, out.Choice = append(out.Above, wrap(out.Choice, aboveWidth)...), ""
			}
		}
		r.Rows = append(r.Rows, out)
		if out.Words != "" {
			r.kinds = append(r.kinds, h.addKind(w))
		}
	}
	if len(s.By) == 0 {
		return first
	}
	sw := switched{row: first}
	sw.pick, sw.stride = h.picks(s, stored, len(b.Settings))
	r.switches = append(r.switches, sw)
	return (len(r.switches) - 1) | 1<<(8*h.index.Bytes-1)
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

// words are a row's literals.
func (h *header) words(r number.Row) string { return h.folded(h.Literals(r), "\n      ") }

// WordNames are what they are called.
func (h *header) WordNames() string {
	var names []string
	for _, w := range h.Kernel.Words {
		names = append(names, w.Name)
	}
	return h.folded(names, "\n *  ")
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

// print turns the tables into lines.
func (h *header) print() {
	for i := range h.Rates {
		r := &h.Rates[i]
		for k := range r.Rows {
			r.Rows[k].Comma = comma(slices.ContainsFunc(r.Rows[k+1:], func(later row) bool { return later.Words != "" }))
		}
		r.KindLines, r.PositionLines, r.ListLines = numbers(r.kinds), numbers(r.positions), numbers(r.lists)
		for k, p := range r.switches {
			var stride []string
			for _, s := range p.stride {
				stride = append(stride, fmt.Sprintf("%du", s))
			}
			r.SwitchLines = append(r.SwitchLines, fmt.Sprintf("{ %du, %du, { %s } }%s", p.row, p.pick, strings.Join(stride, ", "), comma(k < len(r.switches)-1)))
		}
	}
	h.PickLines = numbers(h.Picks)
}

// numbers are lines of constants.
func numbers[T int | uint8](of []T) []string {
	var text []string
	for i, v := range of {
		text = append(text, fmt.Sprintf("%du%s", v, comma(i < len(of)-1)))
	}
	return wrap(strings.Join(text, " "), codeWidth-4)
}

func comma(more bool) string {
	if more {
		return ","
	}
	return ""
}

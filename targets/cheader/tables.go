package cheader

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
	"bandwright/compiler"
	"bandwright/compiler/verify"
)

// tables are the header's constants: every rate's positions and their
// alternatives in one list, and the alternatives that combinations pick.
type tables struct {
	Rows                            []row
	Picks                           []uint8
	PickLines                       []string
	PositionLines                   []string
	Rates                           []rate
	positions                       []position
	index                           number.CType // of what numbers rows and picks
	Positions, Switched, DelayWords int
	// Sections is false for a loudspeaker of gains and delays alone; Glides is
	// true where a choice leaves a constant.
	Sections, Glides bool
}

// row is one line of the section table.
type row struct {
	Above         []string
	Words, Choice string // the choice stands behind the words, or above where there is no room
	Comma         string
}

// rate is one line of the rate table.
type rate struct {
	Hz       uint64
	First    int
	Cascades []string
}

// position is what the position table holds, before it is printed.
type position struct {
	row, pick, switched int
	stride              []int
}

// rowWidth is the room for words and choice on a line of 100 columns,
// aboveWidth that of a comment above a row.
const rowWidth, aboveWidth = 82, 90

// Index is the C type that numbers rows and picks.
func (t tables) Index() string { return t.index.Name }

// greatestIndex16 is what a uint16_t numbers.
const greatestIndex16 = 1<<16 - 1

// addTables makes the tables of all rates. An error says which rates whole
// hertz do not tell apart.
func (h *header) addTables(b *compiler.Build, made []compiler.Digital) error {
	delays := make([]int, 1+len(h.Ways)) // the longest of each cascade, in samples
	for _, d := range made {
		for i, c := range cascades(d) {
			delays[i] = max(delays[i], number.DelaySamples(c, d.RateHz))
		}
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
	h.Sections = h.Positions > 0
	// C has no arrays of nothing.
	h.Positions, h.Switched = max(h.Positions, 1), max(h.Switched, 1)
	if len(h.Rows) == 0 {
		h.Rows = []row{{Words: h.words(number.Row{B0: 1}), Above: []string{"no sections at all: unused"}}}
	}
	if len(h.Picks) == 0 {
		h.Picks = []uint8{0}
	}
	if len(h.positions) == 0 {
		h.positions = []position{{stride: make([]int, len(b.Settings))}}
	}
	h.index = number.CType{Name: "uint16_t", Bytes: 2}
	if max(len(h.Rows), len(h.Picks)) > greatestIndex16 {
		h.index = number.CType{Name: "uint32_t", Bytes: 4}
	}
	h.print()
	return nil
}

// addRate makes the tables of one rate.
func (h *header) addRate(b *compiler.Build, d compiler.Digital, delays []int) {
	r := rate{Hz: wholeHz(d.RateHz), First: len(h.positions)}
	switched, delayAt := 0, 0
	for i, c := range cascades(d) {
		from := len(h.positions) - r.First
		for k, s := range c.Slots {
			p := position{row: len(h.Rows)}
			p.pick, p.stride = h.picks(s, len(b.Settings))
			if len(s.By) > 0 {
				switched++
				p.switched = switched
			}
			h.addRows(b, place{d, i, k}, s)
			h.positions = append(h.positions, p)
		}
		to := len(h.positions) - r.First
		gain, name := d.Format.InputWord(d.System, d.InputGain), "common"
		if i > 0 {
			w := d.System.Ways[i-1]
			gain, name = d.Format.WayWord(w), comment(w.Name)
		}
		line := h.Literal(gain) + ", "
		if h.DelayWords > 0 {
			line += fmt.Sprintf("%du, %du, ", number.DelaySamples(c, d.RateHz), delayAt)
		}
		delayAt += delays[i]
		r.Cascades = append(r.Cascades, fmt.Sprintf("{ %s%d, %d }%s /* %s */", line, from, to, comma(i < len(h.Ways)), name))
	}
	h.Positions = max(h.Positions, len(h.positions)-r.First)
	h.Switched = max(h.Switched, switched)
	h.Rates = append(h.Rates, r)
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
// gives the distance that each setting's choices are apart there.
func (h *header) picks(s biquad.Slot[biquad.Digital], settings int) (at int, stride []int) {
	stride = make([]int, settings)
	pick := s.Pick
	if len(s.By) == 0 {
		pick = []uint8{0}
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

// addRows writes the alternatives of a position.
func (h *header) addRows(b *compiler.Build, at place, s biquad.Slot[biquad.Digital]) {
	for i, r := range number.Rows(s, at.digital.RateHz) {
		out := row{Words: h.words(r)}
		if i == 0 {
			out.Above = wrap(comment(about(b, at, s)), aboveWidth)
		}
		if len(s.Alt) > 1 {
			h.Glides = h.Glides || s.Alt[i].Order() == 0
			out.Choice = comment(aboutChoice(b, at, s, i))
			if last := out.Words[strings.LastIndex(out.Words, "\n")+1:]; len(last)+len(out.Choice) > rowWidth {
				out.Above, out.Choice = append(out.Above, wrap(out.Choice, aboveWidth)...), ""
			}
		}
		h.Rows = append(h.Rows, out)
	}
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
	const short, onFirst = 4, 4 // bytes; words
	if h.C.Type.Bytes > short && len(s) > onFirst {
		return strings.Join(s[:onFirst], ", ") + "," + next + strings.Join(s[onFirst:], ", ")
	}
	return strings.Join(s, ", ")
}

// namedCombinations is how many combinations a comment lists before it only
// counts.
const namedCombinations = 3

// choices says for which choices an alternative stands: "grille woven" or, where
// the choices of several settings do not simply combine, the combinations.
func choices(settings []verify.Setting, s biquad.Slot[biquad.Digital], alt int) string {
	picked := s.Choices(alt)
	if len(picked) == 0 {
		return "no choice picks this"
	}
	product := 1
	var simple []string
	for i, ax := range s.By {
		set := settings[ax.Setting]
		var in []string
		for k, name := range set.Choices {
			if slices.ContainsFunc(picked, func(c []int) bool { return c[i] == k }) {
				in = append(in, name)
			}
		}
		product *= len(in)
		if len(in) < ax.Choices {
			simple = append(simple, set.Name+" "+orList(in))
		}
	}
	if product == len(picked) && len(simple) > 0 {
		return strings.Join(simple, " with ")
	}
	var listed []string
	for _, c := range picked[:min(len(picked), namedCombinations)] {
		var one []string
		for i, ax := range s.By {
			one = append(one, settings[ax.Setting].Name+" "+settings[ax.Setting].Choices[c[i]])
		}
		listed = append(listed, strings.Join(one, " with "))
	}
	text := strings.Join(listed, "; ")
	if more := len(picked) - len(listed); more > 0 {
		text += fmt.Sprintf("; %d more", more)
	}
	return text
}

// picksPerLine fits a line of 100 columns.
const picksPerLine = 24

// print turns the tables into lines.
func (h *header) print() {
	for i := range h.Rows {
		if i < len(h.Rows)-1 {
			h.Rows[i].Comma = ","
		}
	}
	for i := 0; i < len(h.Picks); i += picksPerLine {
		var line []string
		for _, p := range h.Picks[i:min(i+picksPerLine, len(h.Picks))] {
			line = append(line, fmt.Sprintf("%du", p))
		}
		h.PickLines = append(h.PickLines, strings.Join(line, ", ")+comma(i+picksPerLine < len(h.Picks)))
	}
	for i, p := range h.positions {
		var stride []string
		for _, s := range p.stride {
			stride = append(stride, fmt.Sprintf("%du", s))
		}
		h.PositionLines = append(h.PositionLines, fmt.Sprintf("{ %du, %du, %du, { %s } }%s",
			p.row, p.pick, p.switched, strings.Join(stride, ", "), comma(i < len(h.positions)-1)))
	}
}

func comma(more bool) string {
	if more {
		return ","
	}
	return ""
}

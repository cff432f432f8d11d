package cheader

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// lanePass and shortPass are how many sections of all lanes a pass takes.
const lanePass, shortPass = 5, 3

// laneBlock is how many samples lanes take at once.
const laneBlock = 64

// halfBytes is what the vectors of every processor with lanes have.
const halfBytes = 16

// Lanes reports whether the format's operators are the type's own, so that
// vectors of it compute the same.
func (h *header) Lanes() bool {
	return h.Sections() && h.C.Round == "" && len(h.C.Functions) == 0 && !slices.Contains(h.forms(), biquad.Mirrored) &&
		h.Channels*len(h.Ways) > 1 && h.Copies() && len(h.Kernel.States) == 2
}

// LaneCondition is where the compiler has vectors and nobody is against lanes.
func (h *header) LaneCondition() string {
	return "defined __GNUC__ && (defined __SSE2__ || defined __aarch64__) && !defined " + h.Upper + "_NO_LANES"
}

// LaneBytes are those of a vector: two of what every processor with lanes has, or one where
// all ways have room in it.
func (h *header) LaneBytes() int {
	if h.Channels*len(h.Ways) <= h.HalfCount() {
		return halfBytes
	}
	return 2 * halfBytes
}

// Wide reports that it is two.
func (h *header) Wide() bool { return h.LaneBytes() > halfBytes }

// Blend is what compilers call the instruction that takes lanes of two vectors by a third, BlendWith the word for the
// instructions that have it.
func (h *header) Blend() string {
	name := "__builtin_ia32_blendvps"
	if h.C.Type.Bytes == 8 {
		name = "__builtin_ia32_blendvpd"
	}
	if h.Wide() {
		name += "256"
	}
	return name
}

func (h *header) BlendWith() string {
	if h.Wide() {
		return "__AVX__"
	}
	return "__SSE4_1__"
}

// LaneCount is how many words a vector holds, Marks the integer as wide as one.
func (h *header) LaneCount() int { return h.LaneBytes() / h.C.Type.Bytes }
func (h *header) Marks() string  { return fmt.Sprintf("int%d_t", 8*h.C.Type.Bytes) }
func (h *header) LaneGroups() int {
	return (h.Channels*len(h.Ways) + h.LaneCount() - 1) / h.LaneCount()
}
func (h *header) LanePass() int  { return lanePass }
func (h *header) LaneBlock() int { return laneBlock }
func (h *header) ShortPass() int { return shortPass }
func (h *header) TwoShort() int  { return 2 * shortPass }

// LaneDeep is how many sections a lane has room for: those of the longest way, and what a
// last pass has too many.
func (h *header) LaneDeep() int { return h.longestWay + shortPass - 1 }

// LaneWords is the room in the state for all groups of lanes, and to begin where whole vectors do.
func (h *header) LaneWords() int {
	vector := h.LaneBytes()
	const masks, gain = 3, 1
	group := (h.LaneDeep()*(h.RowWords()+masks) + gain) * vector
	group += (4*h.LaneCount() + 2*(h.LaneDeep()+1) + vector - 1) / vector * vector
	return (h.LaneGroups()*group + vector) / h.C.Type.Bytes
}

// LaneList is for one name a lane, HalfList for one a lane of 16 bytes; Straight are the words of a section that changes nothing, LaneGain makes scaled of all, which
// are vectors of a name, or one word.
func (h *header) LaneList() []int    { return make([]int, h.LaneCount()) }
func (h *header) HalfBytes() int     { return halfBytes }
func (h *header) HalfCount() int     { return halfBytes / h.C.Type.Bytes }
func (h *header) HalfList() []int    { return make([]int, h.HalfCount()) }
func (h *header) Straight() []string { return h.Literals(number.Row{B0: 1}) }

// LaneWord is C's expression for a word of the row at w, which is of such a length; 0 of one that the row does not have.
func (h *header) LaneWord(v number.Variable) string {
	at := h.WordAt(v)
	switch {
	case at < 0:
		return h.Zero()
	case at < h.RowLengths()[0]:
		return fmt.Sprintf("w[%d]", at)
	}
	return fmt.Sprintf("length > %du ? w[%d] : %s", at, at, h.Zero())
}

func (h *header) LaneGain(vector string) []string {
	k := h.kernel
	if vector != "" {
		k.C.Type.Name = h.Stem + "_" + vector
	}
	p := number.Program{}
	for _, s := range k.Kernel.Gain {
		s.To = "scaled"
		p = append(p, s)
	}
	return k.statements(p, map[string]string{"x": "all"}, nil)
}

// LaneInput makes to, of all lanes, of gains and of what each of them hears.
func (h *header) LaneInput(to, from string) []string {
	vector := func(blanks, first, count int, name, out string) []string {
		var of []string
		for k := range count {
			of = append(of, fmt.Sprintf(from, first+k))
		}
		pad := strings.Repeat(" ", blanks)
		lines := []string{
			pad + "{",
			fmt.Sprintf("%s    %s_%s gain;", pad, h.Stem, name),
			pad + "    " + fold(blanks+4, fmt.Sprintf("const %s_%s all = { %s };", h.Stem, name, strings.Join(of, ", "))),
			"",
			fmt.Sprintf("%s    (void)memcpy(&gain, &gains->one[%d], sizeof gain);", pad, first),
			pad + "    {",
		}
		for _, l := range h.LaneGain(name) {
			lines = append(lines, pad+"        "+fold(blanks+8, l))
		}
		return append(lines, fmt.Sprintf("%s        %s", pad, out), pad+"    }", pad+"}")
	}
	const blanks = 8
	whole := vector(blanks, 0, h.LaneCount(), "lanes", to+".all = scaled;")
	if !h.Wide() {
		return whole
	}
	out := append([]string{"#if defined __AVX__"}, whole...)
	out = append(out, "#else")
	for _, first := range []int{0, h.HalfCount()} {
		out = append(out, vector(blanks, first, h.HalfCount(), "short", fmt.Sprintf("(void)memcpy(&%s.one[%d], &scaled, sizeof scaled);", to, first))...)
	}
	return append(out, "#endif")
}

// A row is all that a pass has to know of a section of one lane: the section's words and its states.

// RowWords is how many words a row has, RowState where one of the states stands,
// RowNames what they are called.
func (h *header) RowWords() int      { return h.RowState(len(h.Kernel.States)) }
func (h *header) RowState(i int) int { return len(h.Kernel.Words) + i }

func (h *header) RowNames() string {
	var names []string
	for _, v := range slices.Concat(h.Kernel.Words, h.Kernel.States) {
		names = append(names, v.Name)
	}
	return strings.Join(names, ", ")
}

// shuffles are the places of the perfect shuffle of two vectors, its lower half and its upper one.
func (h *header) shuffles() [2]string {
	n := h.HalfCount()
	var out [2]string
	for half := range out {
		places := make([]string, n)
		for i := range n {
			places[i] = fmt.Sprint((half*n+i)/2 + i%2*n)
		}
		out[half] = strings.Join(places, ", ")
	}
	return out
}

// Turns turn the vectors v about: perfect shuffles, so many that a vector's words are
// in all others once.
func (h *header) Turns() []string {
	n, places := h.HalfCount(), h.shuffles()
	var out []string
	from := func(i int) string { return fmt.Sprintf("v[%d]", i) }
	for round := 1; 1<<round <= n; round++ {
		to := func(i int) string { return fmt.Sprintf("v%d_%d", round, i) }
		for i := range n {
			out = append(out, fmt.Sprintf("const %s_short %s = %s_SHUFFLE(%s, %s, %s);",
				h.Stem, to(i), h.Upper, from(i/2), from(i/2+n/2), places[i%2]))
		}
		from = to
	}
	for i := range n {
		out = append(out, fmt.Sprintf("v[%d] = %s;", i, from(i)))
	}
	return out
}

// laneForm is a form that all lanes of a pass are in, or several; Number is how the code calls it.
type laneForm struct {
	Name   string
	Number int
}

// FormStep times a form's number, and its sections, are a pass; Ragged is the form where some lanes have no
// such section.
func (h *header) FormStep() int { return 8 }
func (h *header) Ragged() int   { return 4 }

// LaneForms are those in use.
func (h *header) LaneForms() []laneForm {
	direct, delta := slices.Contains(h.forms(), biquad.Direct), slices.Contains(h.forms(), biquad.Delta)
	var out []laneForm
	if direct {
		out = append(out, laneForm{"direct", 1})
	}
	if delta {
		out = append(out, laneForm{"delta", 2})
	}
	if direct && delta {
		out = append(out, laneForm{"mixed", 3})
	}
	return append(out, laneForm{"ragged", h.Ragged()})
}

// LanePasses are shortPass sections and lanePass of them in every form.
func (h *header) LanePasses() []pass {
	var out []pass
	for _, f := range h.LaneForms() {
		for _, n := range []int{shortPass, lanePass} {
			out = append(out, h.lanePassOf(f, n, fmt.Sprintf("lanes_%s_%d", f.Name, n), f.Number*h.FormStep()+n))
		}
	}
	return out
}

// alonePasses are what single samples go through: as many sections at once as a long pass has, then one by one.
type alonePasses struct {
	laneForm
	Passes []pass
}

func (h *header) LaneAlone() []alonePasses {
	var out []alonePasses
	for _, f := range h.LaneForms() {
		a := alonePasses{laneForm: f}
		for _, n := range []int{lanePass, 1} {
			a.Passes = append(a.Passes, h.inPlace(h.lanePassOf(f, n, f.Name, f.Number)))
		}
		out = append(out, a)
	}
	return out
}

// AloneStep times a form's number, and AloneMost sections of it at most, are what a single sample goes through at once.
func (h *header) AloneStep() int { return 32 }
func (h *header) AloneMost() int { return h.AloneStep() - 1 }

// AloneBegins is the instructions that the next sections of another form take beyond those of one more.
func (h *header) AloneBegins() int { return 16 }

// lanePassOf is n sections of a form. Mixed and ragged are the delta form, in which c times a state is that state: in
// direct lanes it is -0. In lanes that have no such section p stays -0, and adds nothing to x.
func (h *header) lanePassOf(f laneForm, n int, name string, head int) pass {
	k := h.kernel
	k.C.Type.Name = h.Stem + "_lanes"
	form := biquad.Delta
	if f.Name == "direct" {
		form = biquad.Direct
	}
	p := pass{Name: name, Head: head, Last: n - 1}
	var late []string // what only this section's next sample needs: behind the next section's y
	for j := range n {
		p.Sections = append(p.Sections, j)
		lines := k.inPass(k.Kernel.Section(form), j, n)
		p.Within = append(append(p.Within, h.ofRow(lines[0])), late...)
		late = nil
		for _, line := range lines[1:] {
			if f.Name == "mixed" || f.Name == "ragged" {
				line = goesBack.ReplaceAllString(line, "${1}"+h.Upper+"_BACK(${3}_$4, s[$4]) + ")
			}
			late = append(late, h.ofRow(line))
			if f.Name == "ragged" && strings.HasPrefix(line, "p_") {
				late = append(late, fmt.Sprintf("p_%[2]d = (%[1]s_lanes)((%[1]s_marks)p_%[2]d | (%[1]s_marks)s[%[2]d].none.all);", h.Stem, j))
			}
		}
	}
	p.Within = append(p.Within, late...)
	return p
}

// inPlace has every state read right before its section's sample is made, and written right after it is, so that no
// more of them wait in registers than have to.
func (h *header) inPlace(p pass) pass {
	last := make(map[string]int) // the line that makes a state's next value
	for i, line := range p.Within {
		if m := makesState.FindStringSubmatch(line); m != nil {
			last[m[1]+m[2]] = i
		}
	}
	var out []string
	for i, line := range p.Within {
		if m := makesSample.FindStringSubmatch(line); m != nil {
			for j, s := range h.Kernel.States {
				out = append(out, fmt.Sprintf("%s_lanes %s_%s = s[%s].word[%d].all;", h.Stem, s.Name, m[1], m[1], h.RowState(j)))
			}
		}
		out = append(out, line)
		for j, s := range h.Kernel.States {
			if m := makesState.FindStringSubmatch(line); m != nil && m[1] == s.Name && last[m[1]+m[2]] == i {
				out = append(out, fmt.Sprintf("s[%s].word[%d].all = %s_%s;", m[2], h.RowState(j), s.Name, m[2]))
			}
		}
	}
	p.Within = out
	return p
}

// makesState and makesSample find the lines of a section that do.
var (
	makesState  = regexp.MustCompile(`^([pq])_(\d) = `)
	makesSample = regexp.MustCompile(`\by_(\d) = `)
)

// goesBack finds the state of the delta form that goes back to where it was.
var goesBack = regexp.MustCompile(`^(([pq]_\d) = \(?)([pq])_(\d) \+ `)

// LaneMates numbers the channels whose single samples go through the common part beside each other; Pairs reports two.
func (h *header) LaneMates() []int { return []int{0, 1}[:min(2, h.Channels)] }
func (h *header) Pairs() bool      { return len(h.LaneMates()) == 2 }

// SingleLoops take those through sections of one kind: all is loaded before anything is stored, so that a channel may
// go beside itself.
func (h *header) SingleLoops() []pass {
	var out []pass
	for _, l := range h.loops() {
		p := pass{Name: l.Name, Head: l.Kind, Length: h.rowLength(l.Kind)}
		for _, w := range h.wordsOf(l.Program) {
			p.Loads = append(p.Loads, fmt.Sprintf("const %s %s = w[%d];", h.Type(), w.Name, h.WordAt(w)))
		}
		word := func(name string) string { return name }
		for _, c := range h.LaneMates() {
			state := func(name string) string { return fmt.Sprintf("%s_%d", name, c) }
			for _, s := range h.statesOf(l.Program) {
				p.Loads = append(p.Loads, fmt.Sprintf("%s %s = m_%d->%s;", s.Type.Name, state(s.Name), c, s.Name))
				p.Stores = append(p.Stores, fmt.Sprintf("m_%d->%s = %s;", c, s.Name, state(s.Name)))
			}
			p.Within = append(p.Within, h.numbered(l.Program, c, fmt.Sprintf("x_%d", c), word, state)...)
			p.Stores = append(p.Stores, fmt.Sprintf("x_%[1]d = y_%[1]d;", c), fmt.Sprintf("m_%d++;", c))
		}
		out = append(out, p)
	}
	return out
}

// noteLate notes the ways that are late at a rate: 0 is the common part.
func (h *header) noteLate(samples []int) {
	for i, n := range samples {
		if i > 0 && n > 0 {
			h.lateWays |= 1 << (i - 1)
		}
	}
}

// LateWays are those as C's number.
func (h *header) LateWays() string { return fmt.Sprintf("0x%x", h.lateWays) }

// ofRow has words where a pass finds them.
func (h *header) ofRow(line string) string {
	for i, w := range h.Kernel.Words {
		line = regexp.MustCompile(`\b`+w.Name+`_(\d)\b`).ReplaceAllString(line, fmt.Sprintf("s[$1].word[%d].all", i))
	}
	return line
}

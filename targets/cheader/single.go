package cheader

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"bandwright/biquad/number"
)

// step is one form, for a single sample.
type step struct {
	kernel
	Name    string
	From    string // words of forms that begin with it are no less
	Last    bool
	Length  int // of its rows
	program number.Program
}

// copies reports that a program is to = of and no more.
func copies(p number.Program, to, of string) bool {
	return len(p) == 1 && p[0].To == to && p[0].Is == of
}

// Steps are those of the forms in use, the greatest kind first; none where a sample is taken or given by
// more than a copy, or a word holds no more forms than the longest cascade has, so that single samples go
// the way of all.
func (h *header) Steps() []step {
	if h.Single() || !copies(h.Kernel.Take, "x", "in") || !copies(h.Kernel.Give, "out", "x") || h.formsBits() > 64 {
		return nil
	}
	var out []step
	loops := h.loops()
	slices.SortFunc(loops, func(a, b loop) int { return b.Kind - a.Kind })
	for i, l := range loops {
		from := fmt.Sprintf("0x%xu", uint64(l.Kind)<<(h.formsBits()-h.FormBits()))
		out = append(out, step{h.kernel, l.Name, from, i == len(loops)-1, h.rowLength(l.Kind), l.Program})
	}
	return out
}

// FormBits is how many bits tell a section's form: its kind, or one where there is one form only.
func (h *header) FormBits() int {
	if len(h.loops()) == 1 {
		return 1
	}
	return h.KindBits()
}

// formsOf is a word of so many bits with the forms of a list, the first in the highest.
func (h *header) formsOf(list []int, bits int) uint64 {
	out, at := uint64(0), bits
	for _, w := range list {
		kind := uint64(1)
		if h.FormBits() > 1 {
			kind = uint64(w >> h.RowBits & h.KindMask())
		}
		for range w >> h.CountShift() {
			at -= h.FormBits()
			out |= kind << at
		}
	}
	return out
}

// tableBits are the bits of such a word in the tables, formsBits those of C where it is worked with.
func (h *header) tableBits() int {
	most := 0
	for _, r := range h.Rates {
		for _, c := range r.cascades {
			sections := 0
			for _, w := range c.list {
				sections += w >> h.CountShift()
			}
			most = max(most, sections*h.FormBits())
		}
	}
	bits := 16
	for bits < most {
		bits *= 2
	}
	return bits
}

func (h *header) formsBits() int { return max(h.tableBits(), 32) }

// FormsType and FormsWord are their types.
func (h *header) FormsType() string { return fmt.Sprintf("uint%d_t", h.tableBits()) }
func (h *header) FormsWord() string { return fmt.Sprintf("uint%d_t", h.formsBits()) }

// FormsThere is the word of a cascade, FormsPicked that of a pass that settings pick.
func (h *header) FormsThere() string {
	if by := h.formsBits() - h.tableBits(); by > 0 {
		return fmt.Sprintf("(%s)cascade->forms << %d", h.FormsWord(), by)
	}
	return "cascade->forms"
}

func (h *header) FormsPicked() string {
	each := uint64(0)
	for at := 0; at < h.formsBits(); at += h.FormBits() {
		each |= 1 << at
	}
	if h.FormBits() == 1 {
		return fmt.Sprintf("0x%xu << (%du - (word >> %d))", each, h.formsBits(), h.CountShift())
	}
	return fmt.Sprintf("((word >> %s_HEAD & %du) * 0x%xu) << (%du - ((word >> %d) * %du))",
		h.Upper, h.KindMask(), each, h.formsBits(), h.CountShift(), h.FormBits())
}

// SampleLanes numbers the channels that a single sample of goes through sections side by side.
func (h *header) SampleLanes() []int {
	if h.Both() {
		return []int{0, 1}
	}
	return []int{0}
}

// Both reports that there are two; Odd, that the last of more has no other beside it.
func (h *header) Both() bool { return h.Channels > 1 && !h.Single() }
func (h *header) Odd() bool  { return h.Channels%2 == 1 }

// OneFrame reports that one frame goes the way of single samples, where there is room for all channels'.
func (h *header) OneFrame() bool { return h.OneByOne() && h.Channels <= number.Tick }

// Mates reports that channels look for one that they may go with.
func (h *header) Mates() bool { return h.Both() && h.Steps() != nil }

// Lane are the statements of a section for the sample x of one channel: from the words of row and the states of is.
func (s step) Lane(lane int) []string {
	return s.numbered(inputFirst(s.program), lane, fmt.Sprintf("x_%d", lane), func(name string) string { return "row." + name },
		func(name string) string { return fmt.Sprintf("is_%d.%s", lane, name) })
}

// ofInput finds the products of a word and the input.
var ofInput = regexp.MustCompile(`\b(\w+)\*x\b`)

// inputFirst has the products with the input in front, where y is not yet made: y may then stand where the
// input stood, and compilers need no copy of that.
func inputFirst(p number.Program) number.Program {
	var first, rest number.Program
	for i, s := range p {
		if i > 0 {
			for _, product := range ofInput.FindAllStringSubmatch(s.Is, -1) {
				first = append(first, number.Step{To: product[1] + "x", Is: product[0]})
			}
			s.Is = ofInput.ReplaceAllString(s.Is, "${1}x")
		}
		rest = append(rest, s)
	}
	return append(first, rest...)
}

// SampleGain multiplies a channel's sample by a cascade's gain.
func (k kernel) SampleGain(lane int) []string {
	x := fmt.Sprintf("x_%d", lane)
	return k.statements(k.Kernel.Gain, map[string]string{"x": x, "gain": "cascade->gain"}, map[string]string{"x": x})
}

// several is how an assembler moves words between memory and registers in one instruction.
type several struct {
	Load, Store, Span string
	Registers         []register
	Outputs, Inputs   string
}

type register struct{ Name, Register string }

// several is that for words and the registers from a first one on; nil where the format has none.
func (k kernel) several(names []number.Variable, first int) *several {
	c := k.C.Several
	if c.When == "" {
		return nil
	}
	out := &several{Load: c.Load, Store: c.Store}
	var outputs, inputs []string
	for i, v := range names {
		r := register{v.Name, fmt.Sprintf("%s%d", c.Register, first+i)}
		out.Registers = append(out.Registers, r)
		outputs = append(outputs, fmt.Sprintf("\"=%s\"(%s)", c.Constraint, v.Name))
		inputs = append(inputs, fmt.Sprintf("\"%s\"(%s)", c.Constraint, v.Name))
	}
	out.Span = out.Registers[0].Register + "-" + out.Registers[len(names)-1].Register
	out.Outputs, out.Inputs = strings.Join(outputs, ", "), strings.Join(inputs, ", ")
	return out
}

// loaded is how a section of one channel moves what it remembers.
type loaded struct {
	Number int
	States *several
}

// Loaded are those of the channels.
func (h *header) Loaded() []loaded {
	if h.Steps() == nil {
		return nil
	}
	var out []loaded
	for i := range h.SampleLanes() {
		out = append(out, loaded{i, h.several(h.States(), h.C.Several.First+len(h.States())*i)})
	}
	return out
}

// rowLoad is how a row of so many words is loaded.
type rowLoad struct {
	Length  int
	Words   []number.Variable
	Several *several
}

// RowLoads are those of the rows that there are: into the registers behind those of the channels' states.
func (h *header) RowLoads() []rowLoad {
	if h.Steps() == nil {
		return nil
	}
	var out []rowLoad
	for _, n := range h.RowLengths() {
		words := h.Words()[:n]
		out = append(out, rowLoad{n, words, h.several(words, h.C.Several.First+len(h.States())*len(h.SampleLanes()))})
	}
	return out
}

// OneLength reports that all rows have as many words.
func (h *header) OneLength() bool { return len(h.RowLengths()) == 1 }

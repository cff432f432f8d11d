package cheader

import (
	"fmt"
	"regexp"
	"strings"

	"bandwright/biquad/number"
)

// step is one form, for a single sample.
type step struct {
	kernel
	Name    string
	Kind    int
	Last    bool
	program number.Program
}

// copies reports that a program is to = of and no more.
func copies(p number.Program, to, of string) bool {
	return len(p) == 1 && p[0].To == to && p[0].Is == of
}

// Steps are those of the forms in use; none where a sample is taken or given by
// more than a copy, so that single samples go the way of all.
func (h *header) Steps() []step {
	if !copies(h.Kernel.Take, "x", "in") || !copies(h.Kernel.Give, "out", "x") {
		return nil
	}
	var out []step
	loops := h.loops()
	for i, l := range loops {
		out = append(out, step{h.kernel, l.Name, l.Kind, i == len(loops)-1, l.Program})
	}
	return out
}

// SampleLanes numbers the channels that a single sample of goes through sections side by side.
func (h *header) SampleLanes() []int {
	if h.Both() {
		return []int{0, 1}
	}
	return []int{0}
}

// Both reports that there are two.
func (h *header) Both() bool { return h.Channels > 1 }

// OneFrame reports that one frame goes the way of single samples, where there is room for all channels'.
func (h *header) OneFrame() bool { return h.Steps() != nil && h.Channels <= number.Tick }

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

// SampleGain makes x of a channel's sample and a cascade's gain.
func (k kernel) SampleGain(of string, lane int) []string {
	return k.statements(k.Kernel.Gain, map[string]string{"x": fmt.Sprintf("%s_%d", of, lane)}, map[string]string{"x": fmt.Sprintf("x_%d", lane)})
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

// loaded is how a section of one channel moves what it remembers and, where the channel is the first, the words of
// the row that all of them take.
type loaded struct {
	Number        int
	Words, States *several
}

// Loaded are those of the channels: registers of states first, then those of the row.
func (h *header) Loaded() []loaded {
	if h.Steps() == nil {
		return nil
	}
	lanes, words, states := h.SampleLanes(), h.Words(), h.States()
	var out []loaded
	for i := range lanes {
		out = append(out, loaded{i, h.several(words, h.C.Several.First+len(states)*len(lanes)), h.several(states, h.C.Several.First+len(states)*i)})
	}
	return out
}

package cheader

import (
	"fmt"
	"slices"
	"strings"

	"bandwright/biquad/number"
)

// wholeStep is one form of a format whose words are whole numbers, for a single sample of one channel.
type wholeStep struct {
	kernel
	Name, Ident   string
	Kind          int
	Last          bool
	Length        int          // of its rows
	States        []wholeState // that it has, in the order of the memory
	Beyond        bool         // others, or nothing, stand before them or behind
	Load, Keep    string       // the registers of all
	Before, After []string     // what is done before and behind the load of the row's rest
	Behind        string       // what that load waits for
}

// wholeState is a state and the registers that it is loaded to, and kept from.
type wholeState struct {
	number.Variable
	Load, Keep string
}

// WholeSteps are those of the forms in use; none of formats whose passes take several sections.
func (h *header) WholeSteps() []wholeStep {
	if !h.Sections() || !h.Single() {
		return nil
	}
	var out []wholeStep
	loops := h.loops()
	for i, l := range loops {
		s := wholeStep{kernel: h.kernel, Name: l.Name, Ident: strings.NewReplacer(", ", "_", "-", "_").Replace(l.Name), Kind: l.Kind, Last: i == len(loops)-1, Length: h.rowLength(l.Kind)}
		bytes := 0
		for _, v := range h.States() {
			if slices.ContainsFunc(l.Program, func(p number.Step) bool { return p.To == v.Name }) {
				s.States = append(s.States, wholeState{Variable: v})
				bytes += v.Type.Bytes
			}
		}
		s.Beyond = bytes < h.memoryBytes()
		s.registers(l.Program)
		before, after := h.halves(l.Program)
		s.Before, s.After = h.unnumbered(before), h.unnumbered(after)
		s.Behind = "is." + s.States[0].Name
		if len(before) > 0 {
			s.Behind = h.unnumberedName(before[len(before)-1].To)
		}
		out = append(out, s)
	}
	return out
}

// OneByOne reports that single samples have a way of their own.
func (h *header) OneByOne() bool { return h.Steps() != nil || h.WholeSteps() != nil }

// RowFirst and RowRest are the words of a row in the order of the table: those that a section's first
// products need, and the others, which take the same registers.
func (h *header) RowFirst() []number.Variable { return h.Words()[:2] }
func (h *header) RowRest() []number.Variable  { return h.Words()[2:] }

// RestLoads are the rests of rows that there are.
func (h *header) RestLoads() []rowLoad {
	var out []rowLoad
	for _, n := range h.RowLengths() {
		out = append(out, rowLoad{Length: n, Words: h.Words()[len(h.RowFirst()):n]})
	}
	return out
}

// RowRegisters are those of the words of a row, or of its rest.
func (h *header) RowRegisters(words []number.Variable) []register {
	var out []register
	for i, v := range words {
		out = append(out, register{v.Name, fmt.Sprint(h.C.Several.Register, h.C.Several.Words[i])})
	}
	return out
}

// RegisterList is how an assembler writes them.
func (h *header) RegisterList(of []register) string {
	var names []string
	for _, r := range of {
		names = append(names, r.Register)
	}
	return strings.Join(names, ", ")
}

// registers chooses them, so that those in which states are kept ascend as well, without a copy: what a state
// takes over from x or y stands in front of the state.
func (s *wholeStep) registers(p number.Program) {
	c, next := s.C.Several, 0
	if c.When == "" {
		return
	}
	take := func() string {
		next++
		return fmt.Sprint(c.Register, c.States[next-1])
	}
	loaded := map[string]string{}
	var load, keep []string
	for i := range s.States {
		v := &s.States[i]
		of := p[lastTo(p, v.Name)].Is
		computed := strings.ContainsAny(of, " (")
		if !computed && loaded[of] == "" {
			v.Keep = take()
		}
		v.Load = take()
		loaded[v.Name] = v.Load
		switch {
		case computed:
			v.Keep = v.Load
		case v.Keep == "":
			v.Keep = loaded[of]
		}
		load, keep = append(load, v.Load), append(keep, v.Keep)
		if v.Type.Bytes > s.C.Type.Bytes {
			more := take()
			load, keep = append(load, more), append(keep, more)
		}
	}
	s.Load, s.Keep = strings.Join(load, ", "), strings.Join(keep, ", ")
}

// lastTo is the last step to a name.
func lastTo(p number.Program, name string) int {
	for i := len(p) - 1; i >= 0; i-- {
		if p[i].To == name {
			return i
		}
	}
	panic("cheader: no step to " + name)
}

// halves is a section's program, cut where the rest of the row is first needed. A sum there is cut as well: its
// terms that need no such word go in front. Sums of whole numbers are the same in any order, and so is what bounds
// them on the way.
func (h *header) halves(p number.Program) (before, after number.Program) {
	needs := func(n number.Node) bool {
		return slices.ContainsFunc(h.RowRest(), func(v number.Variable) bool { return finds(n, v.Name) })
	}
	for i, s := range p {
		tree := s.Tree()
		if !needs(tree) {
			before = append(before, s)
			continue
		}
		var first, rest []string
		for _, t := range terms(tree) {
			if needs(t) {
				rest = append(rest, writtenOut(t))
			} else {
				first = append(first, writtenOut(t))
			}
		}
		if len(first) > 0 && !slices.ContainsFunc(terms(tree), func(t number.Node) bool { return needs(t) && finds(t, s.To) }) {
			before = append(before, number.Step{To: s.To, Is: strings.Join(first, " + "), Type: s.Type})
			s.Is = s.To + " + " + strings.Join(rest, " + ")
		}
		return before, append(number.Program{s}, p[i+1:]...)
	}
	return before, nil
}

// terms are those of a sum.
func terms(n number.Node) []number.Node {
	if n.Op != "+" {
		return []number.Node{n}
	}
	return append(terms(n.Args[0]), terms(n.Args[1])...)
}

// writtenOut is a tree as programs are written.
func writtenOut(n number.Node) string {
	if n.Op == "" {
		return n.Leaf
	}
	var args []string
	for _, a := range n.Args {
		text := writtenOut(a)
		if !n.Call && a.Op != "" && !a.Call {
			text = "(" + text + ")"
		}
		args = append(args, text)
	}
	if n.Call {
		return n.Op + "(" + strings.Join(args, ", ") + ")"
	}
	return strings.Join(args, " "+n.Op+" ")
}

// unnumberedName is what C calls a name of a section's program for a single sample.
func (h *header) unnumberedName(name string) string {
	for _, v := range h.Kernel.States {
		if v.Name == name {
			return "is." + name
		}
	}
	return name
}

// unnumbered are the statements of a section's program for a single sample x, from the words of row and the
// states of is.
func (h *header) unnumbered(p number.Program) []string {
	named, kept := map[string]string{}, map[string]string{}
	for _, w := range h.Kernel.Words {
		named[w.Name] = "row." + w.Name
	}
	for _, v := range h.Kernel.States {
		named[v.Name], kept["is."+v.Name] = "is."+v.Name, "is."+v.Name
	}
	var steps number.Program
	for _, s := range p {
		s.To = h.unnumberedName(s.To)
		steps = append(steps, s)
	}
	return h.statements(steps, named, kept)
}

// TakeOne makes now of a sample *in: with the common part's gain where there is no more of it.
func (h *header) TakeOne() []string {
	p := h.Kernel.Take
	switch {
	case h.Plain() && h.SmallGain():
		p = slices.Concat(p, h.Kernel.Small)
	case h.Plain():
		p = slices.Concat(p, h.Kernel.Gain)
	}
	return h.statements(p, map[string]string{"in": "*in"}, map[string]string{"x": "now"})
}

// GainOne makes x of what a cascade hears, GiveOne the sample *to of it.
func (h *header) GainOne(of string) []string {
	return h.statements(h.Kernel.Gain, map[string]string{"x": of, "gain": "cascade->gain"}, map[string]string{"x": "x"})
}

func (h *header) GiveOne() []string {
	return h.statements(h.Kernel.Give, map[string]string{"x": "x"}, map[string]string{"out": "*out[c - 1]", h.Kernel.Seed.Name: h.Kernel.Seed.Name})
}

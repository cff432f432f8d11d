package cheader

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"

	"bandwright/biquad/number"
)

// wholeStep is one form of a format whose words are whole numbers, for a single sample of one channel.
type wholeStep struct {
	kernel
	Name, Ident   string
	Kind          int
	Code          int          // of the form in a word of forms; the most frequent has the greatest
	Here          string       // C's condition for a word of forms that begins with it
	Length        int          // of its rows
	States        []wholeState // that it has, in the order of the memory
	Last, Whole   bool         // they end the memory; they are all of it
	Load, Keep    string       // the registers of all
	Before, After []string     // what is done before and behind the load of the row's rest
	Behind        string       // what that load waits for
}

// wholeState is a state and the registers that it is loaded to, and kept from.
type wholeState struct {
	number.Variable
	Load, Keep string
}

// WholeSteps are those of the forms in use, the most frequent first; none of formats whose passes take several sections.
func (h *header) WholeSteps() []wholeStep {
	if !h.Sections() || !h.Single() {
		return nil
	}
	var out []wholeStep
	loops := h.byRows()
	for i, l := range loops {
		s := wholeStep{kernel: h.kernel, Name: l.Name, Ident: strings.NewReplacer(", ", "_", "-", "_").Replace(l.Name), Kind: l.Kind, Length: h.rowLength(l.Kind)}
		bytes := 0
		for _, v := range h.States() {
			if s.Last = slices.ContainsFunc(l.Program, func(p number.Step) bool { return p.To == v.Name }); s.Last {
				s.States = append(s.States, wholeState{Variable: v})
				bytes += v.Type.Bytes
			}
		}
		s.Whole = bytes == h.memoryBytes()
		s.Last = s.Last && h.States()[0].Name != s.States[0].Name
		s.Code = len(loops) - i
		s.Here = h.begins(s.Code, len(loops))
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

// byRows are the loops, those with the most rows first.
func (h *header) byRows() []loop {
	rows := map[int]int{}
	for _, r := range h.Rates {
		for _, kind := range r.kinds {
			rows[kind]++
		}
	}
	loops := h.loops()
	slices.SortStableFunc(loops, func(a, b loop) int { return rows[b.Kind] - rows[a.Kind] })
	return loops
}

// begins is C's condition for a word of forms that begins with one of so many codes. 0 is no form.
func (h *header) begins(code, codes int) string {
	from, to := uint64(code)<<(wholeBits-h.WholeFormBits()), uint64(code+1)<<(wholeBits-h.WholeFormBits())
	switch {
	case codes == 1:
		return "forms != 0u"
	case code == codes:
		return fmt.Sprintf("forms >= 0x%xu", from)
	case code == 1:
		return fmt.Sprintf("forms != 0u && forms < 0x%xu", to)
	}
	return fmt.Sprintf("forms >= 0x%xu && forms < 0x%xu", from, to)
}

// wholeBits are those of a word of forms in C, WholeFormBits those of a form in it.
const wholeBits = 32

func (h *header) WholeFormBits() int { return bits.Len(uint(len(h.loops()))) }

// WholeForms is how many words the forms of a cascade take at most, wholeWords those of a list.
func (h *header) WholeForms() int {
	most := 1
	for _, r := range h.Rates {
		for _, c := range r.cascades {
			most = max(most, len(h.wholeWords(c.list)))
		}
	}
	return most
}

func (h *header) wholeWords(list []int) []uint32 {
	var out []uint32
	at := 0
	loops := h.byRows()
	for _, w := range list {
		kind := w >> h.RowBits & h.KindMask()
		code := len(loops) - slices.IndexFunc(loops, func(l loop) bool { return l.Kind == kind })
		for range w >> h.CountShift() {
			if at -= h.WholeFormBits(); at < 0 {
				out, at = append(out, 0), wholeBits-h.WholeFormBits()
			}
			out[len(out)-1] |= uint32(code) << at
		}
	}
	return out
}

// wholeTableBits are the bits of such a word in the tables, where there is one a cascade.
func (h *header) wholeTableBits() int {
	for _, r := range h.Rates {
		for _, c := range r.cascades {
			for _, w := range h.wholeWords(c.list) {
				if w&(1<<16-1) != 0 {
					return wholeBits
				}
			}
		}
	}
	return 16
}

// SeveralForms reports that a cascade's stand in several words.
func (h *header) SeveralForms() bool { return h.WholeSteps() != nil && h.WholeForms() > 1 }

// WholeFormsType is their type, WholeFormsThere the first word of a cascade's, WholeFormsPicked C's statements that make
// that of a pass that settings pick; wholeFormsLine is what the tables have.
func (h *header) WholeFormsType() string { return fmt.Sprintf("uint%d_t", h.wholeTableBits()) }

func (h *header) WholeFormsThere() string {
	if h.WholeForms() > 1 {
		return "cascade->forms[0]"
	}
	if by := wholeBits - h.wholeTableBits(); by > 0 {
		return fmt.Sprintf("(uint32_t)cascade->forms << %d", by)
	}
	return "cascade->forms"
}

func (h *header) WholeFormsPicked() []string {
	each, n := uint32(0), h.WholeFormBits()
	for at := 0; at+n <= wholeBits; at += n {
		each |= 1 << at
	}
	if n == 1 {
		return []string{fmt.Sprintf("forms = 0x%xu << (%du - (word >> %d));", each, wholeBits, h.CountShift())}
	}
	loops := h.byRows()
	out := []string{"forms = 1u;"}
	for i, l := range loops[:len(loops)-1] {
		out = append(out, fmt.Sprintf("forms = (word >> %s_HEAD & %du) == %du ? %du : forms;", h.Upper, h.KindMask(), l.Kind, len(loops)-i))
	}
	return append(out, fmt.Sprintf("forms = (forms * 0x%xu) << (%du - ((word >> %d) * %du));", each, wholeBits, h.CountShift(), n))
}

func (h *header) wholeFormsLine(list []int) string {
	words := h.wholeWords(list)
	if h.WholeForms() == 1 {
		is := uint32(0)
		if len(words) > 0 {
			is = words[0]
		}
		return fmt.Sprintf("0x%0*xu", h.wholeTableBits()/4, is>>(wholeBits-h.wholeTableBits()))
	}
	var out []string
	for i := range h.WholeForms() {
		is := uint32(0)
		if i < len(words) {
			is = words[i]
		}
		out = append(out, fmt.Sprintf("0x%08xu", is))
	}
	return "{ " + strings.Join(out, ", ") + " }"
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
// takes over from the input stands in front of the state, and what it takes over from another state, or begins its sum
// with, where that was loaded.
func (s *wholeStep) registers(p number.Program) {
	c, next := s.C.Several, 0
	if c.When == "" {
		return
	}
	var load, keep [][]string
	loaded := map[string][]string{}
	take := func(v number.Variable) []string {
		var out []string
		for range v.Type.Bytes / s.C.Type.Bytes {
			out = append(out, fmt.Sprint(c.Register, c.States[next]))
			next++
		}
		return out
	}
	for i := range s.States {
		v := &s.States[i]
		of := beginsWith(p[lastTo(p, v.Name)].Tree())
		kept := loaded[of]
		if kept == nil && of != v.Name {
			if kept = s.free(p, of, loaded, keep); kept == nil {
				kept = take(v.Variable)
			}
		}
		is := take(v.Variable)
		if loaded[v.Name] = is; kept == nil {
			kept = is
		}
		load, keep = append(load, is), append(keep, kept)
		v.Load, v.Keep = is[0], kept[0]
	}
	s.Load, s.Keep = strings.Join(slices.Concat(load...), ", "), strings.Join(slices.Concat(keep...), ", ")
}

// free is the register of the state before that nothing takes over, where a name is given its value when that state is no
// longer needed.
func (s *wholeStep) free(p number.Program, name string, loaded map[string][]string, kept [][]string) []string {
	made := slices.IndexFunc(p, func(s number.Step) bool { return s.To == name })
	if made < 0 || len(kept) == 0 {
		return nil
	}
	before := s.States[len(kept)-1]
	if len(loaded[before.Name]) > 1 || slices.Equal(kept[len(kept)-1], loaded[before.Name]) {
		return nil
	}
	if slices.ContainsFunc(p[made:], func(s number.Step) bool { return finds(s.Tree(), before.Name) }) {
		return nil
	}
	return loaded[before.Name]
}

// beginsWith is the name that a tree is, or that a sum begins with; empty where that is something else.
func beginsWith(n number.Node) string {
	for n.Op == "+" {
		n = n.Args[0]
	}
	return n.Leaf
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
		// What needs a state stands in front: compilers compute the last term where the sum is kept, and there a state may
		// be another already.
		slices.SortStableFunc(rest, func(a, b string) int { return h.stateless(a) - h.stateless(b) })
		if len(first) > 0 && !slices.ContainsFunc(terms(tree), func(t number.Node) bool { return needs(t) && finds(t, s.To) }) {
			before = append(before, number.Step{To: s.To, Is: strings.Join(first, " + "), Type: s.Type})
			s.Is = s.To + " + " + strings.Join(rest, " + ")
		}
		return before, append(number.Program{s}, p[i+1:]...)
	}
	return before, nil
}

// stateless is 1 for a term that finds no state, otherwise 0.
func (h *header) stateless(term string) int {
	tree := number.Step{Is: term}.Tree()
	if slices.ContainsFunc(h.Kernel.States, func(v number.Variable) bool { return finds(tree, v.Name) }) {
		return 0
	}
	return 1
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

package cheader

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"bandwright/biquad"
	"bandwright/biquad/number"
)

// kernel prints a format's arithmetic. It knows operators and calls; what they
// work on is the format's.
type kernel struct {
	number.Format
	Stem, Upper string // the header's name, as it is and in capitals
}

// named puts the header's name into a text of the format's.
func (k kernel) named(text string) string {
	return strings.NewReplacer("STEM", k.Stem, "UPPER", k.Upper).Replace(text)
}

// The texts of the format, for the template.
func (k kernel) Before() string { return k.named(k.C.Before) }
func (k kernel) Within() string { return k.named(k.C.Within) }
func (k kernel) After() string  { return k.named(k.C.After) }
func (k kernel) Type() string   { return k.C.Type.Name }
func (k kernel) Zero() string   { return k.Literal(0) }

// Functions are the definitions of the functions that the programs in use call, one
// behind those that it calls.
func (h *header) Functions() []string {
	programs := []number.Program{h.Kernel.Take, h.Kernel.Give, h.Kernel.Gain, h.Kernel.Weight, h.Kernel.Fade}
	if h.SmallGain() {
		programs = append(programs, h.Kernel.Small)
	}
	if h.Then > 0 {
		programs = append(programs, h.Kernel.Mix)
	}
	for _, l := range h.loops() {
		programs = append(programs, l.Program)
	}
	called := map[string]bool{h.C.Round: true, h.C.Size.Name: true, h.C.FromInt32.Name: true, h.C.ToInt32.Name: true}
	for _, p := range programs {
		for _, s := range p {
			calls(s.Tree(), called)
		}
	}
	all := h.functions()
	var out []string
	for i := len(all) - 1; i >= 0; i-- {
		if !called[all[i].Name] {
			continue
		}
		for _, f := range all[:i] {
			called[f.Name] = called[f.Name] || strings.Contains(all[i].Text, "STEM_"+f.Name+"(")
		}
		out = append(out, h.named(all[i].Text))
	}
	slices.Reverse(out)
	return out
}

// calls adds the functions of a tree.
func calls(n number.Node, to map[string]bool) {
	if n.Call {
		to[n.Op] = true
	}
	for _, a := range n.Args {
		calls(a, to)
	}
}

// functions are those of the format that there are.
func (k kernel) functions() []number.CFunction {
	out := slices.Clone(k.C.Functions)
	for _, f := range []number.CFunction{k.C.Size, k.C.FromInt32, k.C.ToInt32} {
		if f.Name != "" {
			out = append(out, f)
		}
	}
	return out
}

// SmallGain reports that the common part's gain is one for Kernel.Small at every rate.
func (h *header) SmallGain() bool { return h.Kernel.Small != nil && h.mostCommon < 0.5 }

// Take makes now[i] of a sample of in by Take and, where passes do not, Gain; Gain, a cascade's
// input: to[i] of from[i]. Each stands in a loop over i.
func (h *header) Take() []string {
	k, p := h.kernel, slices.Concat(h.Kernel.Take, h.Kernel.Gain)
	switch {
	case h.Copies() && !h.Plain():
		return nil
	case h.Chained() && !h.Plain():
		p = h.Kernel.Take
	case h.SmallGain():
		p = slices.Concat(h.Kernel.Take, h.Kernel.Small)
	}
	return k.statements(p, map[string]string{"in": "in[i]", "gain": "gain"}, map[string]string{"x": "now[i]"})
}

func (k kernel) Gain() []string {
	return k.statements(k.Kernel.Gain, map[string]string{"x": "from[i]"}, map[string]string{"x": "to[i]"})
}

// Give makes a sample for out[i] of it; nothing where that changes nothing.
func (k kernel) Give() []string {
	if p := k.Kernel.Give; len(p) == 1 && p[0].To == "out" && p[0].Is == "x" {
		return nil
	}
	return k.statements(k.Kernel.Give, map[string]string{"x": "io[i]"}, map[string]string{"out": "io[i]", k.Kernel.Seed.Name: k.Kernel.Seed.Name})
}

// Dithers reports that outputs remember a seed; SeedStep is the first one's.
func (k kernel) Dithers() bool    { return k.Kernel.Seed.Name != "" }
func (k kernel) SeedStep() string { return fmt.Sprintf("0x%x", number.FirstSeed(0)) }

// Weight makes w; Mix and Fade work on io[i] with it.
func (k kernel) Weight() []string { return k.statements(k.Kernel.Weight, nil, nil) }

func (k kernel) Mix() []string {
	return k.statements(k.Kernel.Mix, map[string]string{"y": "io[i]", "z": "other[i]"}, map[string]string{"y": "io[i]"})
}

func (k kernel) Fade() []string {
	return k.statements(k.Kernel.Fade, map[string]string{"y": "io[i]"}, map[string]string{"y": "io[i]"})
}

// formula is one form's formula, for the reader.
type formula struct {
	Form  string
	Steps number.Program
}

// Formulas are those of the forms in use.
func (h *header) Formulas() []formula {
	var out []formula
	for _, f := range h.forms() {
		out = append(out, formula{formName(f), h.Kernel.Section(f)})
	}
	return out
}

// kindOf is how tables call a form.
var kindOf = map[biquad.Form]int{
	biquad.Direct: 1, biquad.Delta: 3, biquad.Mirrored: 2, biquad.Shaped: 4, biquad.DeltaFine: 5, biquad.DeltaWide: 6, biquad.DeltaDeep: 7,
}

// formsInOrder is all forms as code has them.
var formsInOrder = []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored, biquad.Shaped, biquad.DeltaFine, biquad.DeltaWide, biquad.DeltaDeep}

// formName tells forms apart that artefacts call the same.
func formName(f biquad.Form) string {
	switch f {
	case biquad.DeltaFine:
		return f.String() + ", fine"
	case biquad.DeltaWide:
		return f.String() + ", wide"
	case biquad.DeltaDeep:
		return f.String() + ", deep"
	}
	return f.String()
}

// KindBits is the bits that the kind has in a word of a list: 2 hold those of floating
// point.
func (k kernel) KindBits() int {
	for _, f := range k.Forms {
		if kindOf[f] > 3 {
			return 3
		}
	}
	return 2
}

// Includes are the standard headers of the code: that of memset, which has NULL, too, is among them.
func (k kernel) Includes() []string {
	if slices.Contains(k.C.Includes, "string.h") {
		return k.C.Includes
	}
	return append([]string{"string.h"}, k.C.Includes...)
}

// KindMask is those bits.
func (k kernel) KindMask() int { return 1<<k.KindBits() - 1 }

// KindNames tells the kinds of the format's.
func (k kernel) KindNames() string {
	if k.KindBits() == 2 {
		if slices.Contains(k.Forms, biquad.Mirrored) {
			return "1 direct, 2 mirrored, 3 delta"
		}
		return "1 direct, 2 delta without b1 and b2, 3 delta"
	}
	var out []string
	for _, f := range formsInOrder {
		if slices.Contains(k.Forms, f) {
			out = append(out, fmt.Sprintf("%d %s", kindOf[f], formName(f)))
		}
	}
	return strings.Join(out, ", ")
}

// forms are those that sections are kept in, where they are run at all.
func (h *header) forms() []biquad.Form {
	var out []biquad.Form
	for _, f := range formsInOrder {
		if f == biquad.Mirrored && !slices.Contains(h.Format.Forms, f) {
			continue // a kind of the same number
		}
		if h.usesKind(kindOf[f]) || h.bare(f) != nil && h.usesKind(bareKind) {
			out = append(out, f)
		}
	}
	return out
}

// pass takes samples through so many sections of one form at once: everything is
// in registers between them.
type pass struct {
	Name     string
	Ident    string // of the form
	Head     int    // as the first word of a pass says it: the kind alone where a loop takes one
	Sections []int
	Length   int               // of its rows, in words
	Words    []number.Variable // that the form finds
	States   []number.Variable // that it has
	Last     int               // the section that gives the output
	Within   []string

	// Loads and Stores are of the words and states that not all passes begin with.
	Loads, Stores           []string
	MovedLoads, MovedStores []string // where these move at once
}

// longestPass is how many sections a pass has at most: what 32 registers hold of
// single precision, where the format does not say.
func (k kernel) longestPass() int {
	if k.C.Pass > 0 {
		return k.C.Pass
	}
	return 3
}

// Turn is for the samples that a turn of a pass's loop takes before the last ones.
func (k kernel) Turn() []int {
	if k.C.Turn > 1 {
		return make([]int, k.C.Turn)
	}
	return nil
}

// Passes are all that there are: up to longestPass sections of every form in use.
func (h *header) Passes() []pass {
	var out []pass
	for _, l := range h.loops() {
		p := pass{Name: l.Name, Head: l.Kind, Length: h.rowLength(l.Kind), Words: h.wordsOf(l.Program), States: h.statesOf(l.Program)}
		if h.Single() {
			p.Ident = strings.NewReplacer(", ", "_", "-", "_").Replace(l.Name)
			p.Sections, p.Within = []int{0}, h.inPass(l.Program, 0, 1)
			out = append(out, p)
			continue
		}
		for n := 1; n <= h.longest[l.Kind]; n++ {
			j := n - 1
			p.Last, p.Sections = j, append(slices.Clone(p.Sections), j)
			p.Name, p.Head = fmt.Sprintf("%s, %d", l.Name, n), n<<h.KindBits()|l.Kind
			p.Within = slices.Concat(p.Within, h.inPass(l.Program, j, n))
			if first, there := h.heads[p.Head]; there {
				out = append(out, p)
				at := &out[len(out)-1]
				at.Within = slices.Concat([]string{"const " + h.Type() + " x = *from;"}, p.Within)
				if first {
					at.Within = slices.Concat(h.statements(h.Kernel.Gain, map[string]string{"x": "*from"}, nil), p.Within)
				}
			}
		}
	}
	words, states := shared(out)
	for i := range out {
		p := &out[i]
		p.Loads, p.Stores = h.loads(0, 0, without(p.Words, words), without(p.States, states)), stores(0, without(p.States, states))
		for _, j := range p.Sections[1:] {
			p.Loads, p.Stores = append(p.Loads, h.loads(j, p.Length, p.Words, p.States)...), append(p.Stores, stores(j, p.States)...)
		}
		if h.Chained() {
			p.MovedLoads, p.MovedStores = h.moved(*p, words)
		}
	}
	return out
}

// inPass are the statements of section j of n. Its names end in _j.
func (k kernel) inPass(program number.Program, j, n int) []string {
	x := "x"
	if j > 0 {
		x = fmt.Sprintf("y_%d", j-1)
	}
	name := func(name string) string { return fmt.Sprintf("%s_%d", name, j) }
	return k.numbered(program, j, x, name, name)
}

// numbered are the statements of a program whose names end in _j, but for its input, its words and its states.
func (k kernel) numbered(program number.Program, j int, x string, word, state func(string) string) []string {
	end := fmt.Sprintf("_%d", j)
	named, kept := map[string]string{"x": x}, map[string]string{}
	for _, w := range k.Kernel.Words {
		named[w.Name] = word(w.Name)
	}
	for _, s := range k.Kernel.States {
		named[s.Name], kept[s.Name] = state(s.Name), state(s.Name)
	}
	var p number.Program
	for _, s := range program {
		if _, state := kept[s.To]; !state {
			named[s.To] = s.To + end
			s.To += end
		}
		p = append(p, s)
	}
	return k.statements(p, named, kept)
}

// statements prints a program. named is what C calls the names that the
// program finds, where it calls them otherwise; kept is where C keeps what the
// program leaves behind: the last step to a name goes there. What else a
// program gives a value to is declared where that happens first.
func (k kernel) statements(p number.Program, named, kept map[string]string) []string {
	named = maps.Clone(named)
	declared := map[string]bool{}
	var out []string
	for i, s := range p {
		again := slices.ContainsFunc(p[i+1:], func(later number.Step) bool { return later.To == s.To })
		value, _ := k.expression(s.Tree(), named)
		place, keep := kept[s.To]
		switch {
		case keep && (!again || place == s.To):
			named[s.To] = place
		case declared[s.To]:
			place = s.To
		default:
			place = s.Type.Name + " " + s.To
			if s.Type.Name == "" {
				place = k.Type() + " " + s.To
			}
			if !again {
				place = "const " + place
			}
			declared[s.To] = true
			delete(named, s.To)
		}
		line := place + " = " + value + ";"
		if s.Note != "" {
			line += " /* " + s.Note + " */"
		}
		out = append(out, line)
	}
	return out
}

// How tightly C binds what an expression consists of.
const (
	whole = iota // a name, a number or a call
	product
	sum
)

// expression prints a tree. A sum in a sum stands in parentheses, so that the
// order is seen.
func (k kernel) expression(n number.Node, named map[string]string) (text string, binding int) {
	switch {
	case n.Number:
		x, _ := strconv.ParseFloat(n.Leaf, 64)
		return k.Literal(x), whole
	case n.Op == "":
		if c, ok := named[n.Leaf]; ok {
			return c, whole
		}
		return n.Leaf, whole
	}
	binding = sum
	if n.Op == "*" {
		binding = product
	}
	var args []string
	for _, a := range n.Args {
		arg, inner := k.expression(a, named)
		if !n.Call && inner >= binding {
			arg = "(" + arg + ")"
		}
		args = append(args, arg)
	}
	if n.Call {
		return k.call(n.Op, strings.Join(args, ", ")), whole
	}
	text = strings.Join(args, " "+n.Op+" ")
	if k.C.Round != "" {
		return k.call(k.C.Round, text), whole
	}
	return text, binding
}

func (k kernel) call(function, args string) string { return k.Stem + "_" + function + "(" + args + ")" }

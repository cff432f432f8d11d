package cheader

import (
	"maps"
	"slices"
	"strconv"
	"strings"

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

// Functions are the definitions of the functions that the programs call.
func (k kernel) Functions() []string {
	var out []string
	for _, f := range k.C.Functions {
		out = append(out, k.named(f.Text))
	}
	return out
}

// Take copies a sample of in, Gain works on a sample of io, Give copies one to
// out: each in a loop over i.
func (k kernel) Take() []string {
	return k.statements(k.Kernel.Take, map[string]string{"in": "in[done + i]"}, map[string]string{"x": "common[i]"})
}

func (k kernel) Gain() []string {
	return k.statements(k.Kernel.Gain, map[string]string{"gain": "cascade->gain", "x": "io[i]"}, map[string]string{"x": "io[i]"})
}

func (k kernel) Give() []string {
	return k.statements(k.Kernel.Give, map[string]string{"x": "way[i]"}, map[string]string{"out": "out[w][done + i]"})
}

// Section takes x to y with the words k; the states are variables of the same
// names. Its notes stand beside the formula at the header's top.
func (k kernel) Section() []string {
	kept := map[string]string{}
	for _, s := range k.Kernel.States {
		kept[s.Name] = s.Name
	}
	p := slices.Clone(k.Kernel.Section)
	for i := range p {
		p[i].Note = ""
	}
	return k.statements(p, k.row("k"), kept)
}

// Resume and what follows it have the words w, and leave the states in the
// channel's at position k.
func (k kernel) Resume() []string       { return k.resumed(k.Kernel.Resume) }
func (k kernel) ResumeFirst() []string  { return k.resumed(k.Kernel.ResumeFirst) }
func (k kernel) ResumeSecond() []string { return k.resumed(k.Kernel.ResumeSecond) }

func (k kernel) resumed(p number.Program) []string {
	kept := map[string]string{}
	for _, s := range k.Kernel.States {
		kept[s.Name] = "channel->" + s.Name + "[k]"
	}
	return k.statements(p, k.row("w"), kept)
}

// SecondOrder finds out whether the row w is of second order, without a
// comparison for equality, which compilers warn of.
func (k kernel) SecondOrder() string {
	var out []string
	for _, name := range k.Kernel.SecondOrderBy {
		out = append(out, "w."+name+" < "+k.Zero(), "w."+name+" > "+k.Zero())
	}
	return "const int second_order = " + strings.Join(out, " || ") + ";"
}

// row is what C calls the words of the row in a variable.
func (k kernel) row(variable string) map[string]string {
	out := map[string]string{}
	for _, w := range k.Kernel.Words {
		out[w.Name] = variable + "." + w.Name
	}
	return out
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

package number

import (
	"go/ast"
	"go/parser"
	"strings"

	"bandwright/biquad"
)

// Kernel is the arithmetic of a number format, written once: a Machine runs
// these programs, and the C printer prints them.
//
// Every operator of a program gives one word of the format, rounded by itself,
// in the order of the parentheses.
type Kernel struct {
	// Words are what a row of the section table holds, in order.
	Words []Variable
	// States are what a position remembers from one sample to the next.
	States []Variable
	// Take makes x of a sample, called in; Give makes a sample, called out, of x.
	Take, Give Program
	// Seed is what Give remembers of an output from one sample to the next, FirstSeed
	// after a reset; without a name where it remembers nothing.
	Seed Variable
	// Gain multiplies x by a cascade's gain.
	Gain Program
	// Small is Gain for gains between -1/2 and 1/2, of 32 times the gain's word; nil where that is no quicker.
	Small Program
	// Sections make y of x and move the states on, with a row's words: one program
	// a form.
	Sections map[biquad.Form]Program
	// Bare are programs of forms for rows whose b1 and b2 are zero, as those of high-passes in the delta
	// form are: the same to the bit, as no state ever is -0.
	Bare map[biquad.Form]Program
	// Weight is how far a fade is, w from 0 to 1, after so many samples, called
	// at; step is 1 over the samples of the whole fade.
	Weight Program
	// Mix makes y of y, what was heard before a fade, and z, what is heard after
	// it; Fade makes y of y where silence stands before it.
	Mix, Fade Program
}

// Section is the program of a form, or that of the form of the same variable without a
// shift; nil where there is none.
func (k Kernel) Section(f biquad.Form) Program {
	if p, ok := k.Sections[f]; ok {
		return p
	}
	for _, g := range []biquad.Form{biquad.Direct, biquad.Delta, biquad.Mirrored} {
		if p, ok := k.Sections[g]; ok && g.Origin() == f.Origin() {
			return p
		}
	}
	return nil
}

// Variable is a word or a state. Its C type is the format's where Type is empty.
type Variable struct {
	Name string
	Type CType
	// Still is the size below which a state counts as none, as a constant; the format's where it is 0.
	Still float64
}

// Program is steps in order. Names that are neither words nor states are
// variables of the program.
type Program []Step

// Step is To = Is, where Is is written with names, numbers, +, -, * and calls
// of the format's functions.
type Step struct {
	To, Is string
	// Note is what C says beside the step.
	Note string
	// Type is the C type of a variable of the program; empty for a word's.
	Type CType
}

// Node is a step's right side as a tree: a leaf is a name or a number, every
// other node an operator (+, - or *) or a function with what it works on.
type Node struct {
	Leaf   string
	Number bool // the leaf is a number
	Call   bool // the node is a call, of the function Op
	Op     string
	Args   []Node
}

// Tree is the step's right side. A step that is no expression is an error of
// the program: Tree panics.
func (s Step) Tree() Node {
	e, err := parser.ParseExpr(s.Is)
	if err != nil {
		panic(s.To + " = " + s.Is + ": " + err.Error())
	}
	return s.node(e)
}

func (s Step) node(e ast.Expr) Node {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return s.node(e.X)
	case *ast.Ident:
		return Node{Leaf: e.Name}
	case *ast.BasicLit:
		return Node{Leaf: e.Value, Number: true}
	case *ast.BinaryExpr:
		if op := e.Op.String(); strings.Contains("+-*", op) {
			return Node{Op: op, Args: []Node{s.node(e.X), s.node(e.Y)}}
		}
	case *ast.CallExpr:
		if f, ok := e.Fun.(*ast.Ident); ok {
			n := Node{Op: f.Name, Call: true}
			for _, a := range e.Args {
				n.Args = append(n.Args, s.node(a))
			}
			return n
		}
	}
	panic(s.To + " = " + s.Is + ": only names, numbers, +, -, * and calls stand in a step")
}

package number

import (
	"go/ast"
	"go/parser"
	"strings"
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
	// Gain multiplies x by a cascade's gain.
	Gain Program
	// Section makes y of x and moves the states on, with a row's words.
	Section Program
	// Resume gives the states that a row would hold had it made y2 and y, the
	// last two outputs, of x2 and x, the last two inputs: it begins, and goes on
	// in one of two ways. A row is of second order where one of SecondOrderBy,
	// some of its words, is not zero.
	Resume, ResumeFirst, ResumeSecond Program
	SecondOrderBy                     []string
}

// Variable is a word or a state. Its C type is the format's where Type is empty.
type Variable struct {
	Name string
	Type CType
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

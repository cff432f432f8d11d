package golden

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"strings"
	"testing"
)

// The limits of one piece: what a reader can hold in mind at once.
const (
	mostLines      = 450 // of a file
	mostLinesAFunc = 80  // from its first line to its last one
	mostParameters = 6   // without the receiver
)

// oversized are the files and functions that may be larger, each with the
// reason.
var oversized = map[string]string{
	"compiler/circuit/circuittest/published_test.go books": "a table: one case a worked example of a textbook",
}

// size is one measure of one piece that is over its limit.
type size struct {
	piece string // a path, or a path and a function
	says  string
}

// oversizes are what of a file is over a limit.
func oversizes(s source) ([]size, error) {
	var out []size
	over := func(piece string, n, most int, what string) {
		if n > most {
			out = append(out, size{piece, fmt.Sprintf("%d %s, at most %d", n, what, most)})
		}
	}
	over(s.path, strings.Count(s.text, "\n"), mostLines, "lines")
	files := token.NewFileSet()
	f, err := parser.ParseFile(files, s.path, s.text, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	for _, d := range f.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		piece := s.path + " " + fn.Name.Name
		over(piece, files.Position(fn.End()).Line-files.Position(fn.Pos()).Line+1, mostLinesAFunc, "lines")
		over(piece, fn.Type.Params.NumFields(), mostParameters, "parameters")
	}
	return out, nil
}

func TestHousePiecesAreSmall(t *testing.T) {
	needed := map[string]bool{}
	for _, s := range sources(t) {
		if !s.isGo() {
			continue
		}
		all, err := oversizes(s)
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range all {
			if needed[z.piece] = true; oversized[z.piece] == "" {
				t.Errorf("%s: %s", z.piece, z.says)
			}
		}
	}
	for piece := range oversized {
		if !needed[piece] {
			t.Errorf("%s needs no exception", piece)
		}
	}
}

// The measures must find what they are for, and nothing that keeps to them.
func TestHouseSizesBite(t *testing.T) {
	body := strings.Repeat("\tx++\n", mostLinesAFunc-2)
	for text, want := range map[string]int{
		"func f(a, b, c int, d, e, f int) {\n" + body + "}\n":       0,
		"func f() {\n\n" + body + "}\n":                             1,
		"func f(a, b, c int, d, e, f, g int) {\n\n" + body + "}\n":  2,
		"func (r receiver) f(a, b, c, d, e, f int) {}\n":            0,
		strings.Repeat("// x\n", mostLines) + "func f() {}\n":       1,
		"func f(int, int, int, int, int, int, func(a, b int)) {}\n": 1,
	} {
		all, err := oversizes(source{"x.go", "package x\n" + text})
		if err != nil || len(all) != want {
			t.Errorf("%d measures are over in %.40q, want %d (%v)", len(all), text, want, err)
		}
	}
}

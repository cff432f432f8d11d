package golden

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"sync"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/targets"
)

// shipped are the paths of the specs that a user gets.
func shipped(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob("../specs/*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no specs: %v", err)
	}
	return paths
}

// output is what came of a spec.
type output struct {
	build  *compiler.Build
	faults []language.Fault
	files  []compiler.File
	err    error
}

// outputs are those of the shipped specs, by path: each is compiled once for
// all tests, which only read them.
var outputs sync.Map // string → func() output

// compile is a spec's build and all its artefacts.
func compile(t *testing.T, path string) (*compiler.Build, []compiler.File) {
	t.Helper()
	once, _ := outputs.LoadOrStore(path, sync.OnceValue(func() output {
		var o output
		var src []byte
		if src, o.err = os.ReadFile(path); o.err == nil {
			o.build, o.faults, o.err = compiler.Compile(context.Background(), path, src, os.DirFS("../specs"))
		}
		if o.build != nil && o.err == nil {
			o.files, o.err = targets.Emit(o.build, nil)
		}
		return o
	}))
	o := once.(func() output)()
	if o.err != nil || o.build == nil {
		t.Fatalf("%s: %v %v", path, o.err, o.faults)
	}
	return o.build, o.files
}

func compileText(t *testing.T, name, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), name, []byte(src), os.DirFS("../specs"))
	if err != nil || b == nil {
		t.Fatalf("%s: %v %v\n%s", name, err, faults, src)
	}
	return b
}

func shippedSpec(t *testing.T, name string) string {
	t.Helper()
	src, err := os.ReadFile("../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// boardBlock is the block of a spec that asks for a board.
var boardBlock = regexp.MustCompile(`(?m)^board:.*\n(?:[ #].*\n|\n)*`)

// withoutBoard is a spec that asks for digital filters alone.
func withoutBoard(t *testing.T, src string) string {
	t.Helper()
	out := boardBlock.ReplaceAllString(src, "")
	if out == src {
		t.Fatalf("there is no board to leave out:\n%s", src)
	}
	return out
}

package compiler_test

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/language"
)

var update = flag.Bool("update", false, "write the goldens")

// badSpecs are the files of specs/bad by name.
func badSpecs(t *testing.T) map[string][]byte {
	paths, err := filepath.Glob("../specs/bad/*.yaml")
	if err != nil || len(paths) < 35 {
		t.Fatalf("%d specs in specs/bad: %v", len(paths), err)
	}
	out := map[string][]byte{}
	for _, p := range paths {
		src, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(p), ".yaml")] = src
	}
	return out
}

// TestBadSpecs compares every message about the specs in specs/bad with its
// golden. The first line says whether the grammar refuses it, which a JSON Schema
// can do as well, or only its meaning.
func TestBadSpecs(t *testing.T) {
	const dir = "testdata/bad"
	bad := badSpecs(t)
	for name, src := range bad {
		kind, _, _ := strings.Cut(string(src), "\n")
		if kind != "# grammar" && kind != "# meaning" {
			t.Errorf("%s: the first line is neither `# grammar` nor `# meaning`", name)
		}
		b, faults, err := compiler.Compile(context.Background(), "specs/bad/"+name+".yaml", src, os.DirFS("../specs/bad"))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		// What the grammar refuses must be marked grammar, and nothing else.
		parsed, _ := language.Parse(name, src, compiler.Language())
		if (parsed == nil) != (kind == "# grammar") && kind == "# grammar" {
			t.Errorf("%s: marked grammar, but the grammar accepts it", name)
		}
		golden := filepath.Join(dir, name+".txt")
		want, err := os.ReadFile(golden)
		if b != nil {
			t.Errorf("%s: accepted", name)
			continue
		}
		var got strings.Builder
		for _, f := range faults {
			got.WriteString(f.Error() + "\n")
		}
		if *update {
			if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: no golden: %v", name, err)
		} else if got.String() != string(want) {
			t.Errorf("%s: %s", name, compilertest.FirstDifference(got.String(), string(want)))
		}
	}
	goldens, err := filepath.Glob(dir + "/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range goldens {
		if _, ok := bad[strings.TrimSuffix(filepath.Base(g), ".txt")]; !ok {
			t.Errorf("%s: there is no such spec", g)
		}
	}
}

// TestGoodSpecs compiles what must be accepted, without a warning.
func TestGoodSpecs(t *testing.T) {
	paths, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil || len(paths) < 2 {
		t.Fatal(paths, err)
	}
	for _, p := range paths {
		src, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		b, faults, err := compiler.Compile(context.Background(), p, src, os.DirFS("testdata/good"))
		if err != nil || b == nil || len(faults) > 0 {
			t.Errorf("%s: %v %v", p, err, faults)
			continue
		}
		for _, f := range b.Findings {
			if !f.Kept {
				t.Errorf("%s: %+v", p, f)
			}
		}
	}
}

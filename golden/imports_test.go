package golden

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// module is the prefix of every package of ours.
const module = "bandwright/"

// arrow says which packages of ours each package may import: cmd → targets →
// compiler → biquad, and inside compiler only down. A new package is added
// here on purpose, or the test fails.
var arrow = map[string][]string{
	"biquad":                           {},
	"biquad/discretize":                {"biquad"},
	"biquad/number":                    {"biquad"},
	"compiler/words":                   {},
	"compiler/language":                {"compiler/words"},
	"compiler/prototype":               {"biquad", "compiler/language"},
	"compiler/netlist":                 {},
	"compiler/parallel":                {},
	"compiler/nodal":                   {"compiler/netlist"},
	"compiler/circuit":                 {"biquad", "compiler/netlist", "compiler/nodal"},
	"compiler/circuit/circuittest":     {"biquad", "compiler/circuit", "compiler/netlist", "compiler/nodal"},
	"compiler/prototype/prototypetest": {"biquad", "compiler/prototype", "compiler/language"},
	"compiler/verify":                  {"biquad", "compiler/words"},
	"compiler/promise":                 {"biquad", "biquad/discretize", "compiler/language", "compiler/verify", "compiler/words"},
	"compiler/digital":                 {"biquad", "biquad/discretize", "compiler/verify", "compiler/words"},
	"compiler/design":                  {"biquad", "biquad/discretize", "compiler/language", "compiler/prototype", "compiler/words"},
	"compiler/stage":                   {"biquad", "compiler/circuit", "compiler/netlist", "compiler/nodal"},
	"compiler/stage/stagetest":         {"biquad", "compiler/netlist"},
	"compiler/assign":                  {"biquad", "compiler/parallel"},
	"compiler/values":                  {"compiler/assign", "compiler/parallel", "compiler/stage"},
	"compiler/board": {"biquad", "compiler/assign", "compiler/circuit", "compiler/netlist", "compiler/nodal", "compiler/parallel", "compiler/stage", "compiler/values",
		"compiler/language", "compiler/verify", "compiler/words"},
	"compiler": {"biquad", "biquad/discretize", "biquad/number", "compiler/board", "compiler/circuit", "compiler/design", "compiler/digital", "compiler/netlist", "compiler/parallel", "compiler/promise", "compiler/prototype",
		"compiler/language", "compiler/verify", "compiler/words"},
	"compiler/compare": {"biquad", "compiler", "compiler/language", "compiler/promise", "compiler/result", "compiler/verify", "compiler/words"},
	"compiler/result":  {"biquad", "compiler", "compiler/board", "compiler/netlist", "compiler/promise", "compiler/verify", "compiler/words"},
	"targets/cheader":  {"biquad", "biquad/number", "compiler", "compiler/language", "compiler/verify", "compiler/words"},
	"targets/explain": {"biquad", "biquad/discretize", "biquad/number", "compiler", "compiler/board", "compiler/circuit", "compiler/netlist", "compiler/promise",
		"compiler/language", "compiler/verify", "compiler/words"},
	"targets/json":    {"compiler", "compiler/result"},
	"targets/netlist": {"compiler", "compiler/board", "compiler/netlist", "compiler/words"},
	"targets/parts":   {"compiler", "compiler/board", "compiler/netlist", "compiler/language", "compiler/words"},
	"targets/report":  {"biquad", "biquad/number", "compiler", "compiler/board", "compiler/netlist", "compiler/verify", "compiler/words"},
	"targets":         {"compiler", "targets/cheader", "targets/json", "targets/netlist", "targets/parts", "targets/report"},
	"cmd/bandwright": {"biquad", "compiler", "compiler/board", "compiler/compare", "compiler/result", "compiler/language", "compiler/verify", "compiler/words",
		"targets", "targets/explain", "targets/json"},
	"golden":       {},
	"golden/judge": {},
}

// libraries says which packages may import which module of others; tests may
// import any.
var libraries = map[string][]string{
	"github.com/alecthomas/kong": {"cmd/bandwright"},
	"github.com/goccy/go-yaml":   {"compiler/language"},
	"gonum.org/v1/gonum":         {"biquad/discretize", "compiler/nodal", "compiler/prototype", "compiler/verify"},
	"github.com/mjibson/go-dsp":  {},
}

// impure are the standard packages that bring in the disk, the clock, chance
// or the environment: only the command may have them.
var impure = []string{"os", "os/exec", "os/signal", "time", "math/rand", "math/rand/v2", "crypto/rand", "net", "net/http", "syscall", "path/filepath"}

func TestImportsPointDown(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		seen[name] = true
		allowed, known := arrow[name]
		if !known {
			t.Errorf("%s is not in the table of this test: add it with what it may import", name)
			continue
		}
		for _, i := range p.Imports {
			ours := strings.HasPrefix(i, module)
			switch {
			case ours && !slices.Contains(allowed, strings.TrimPrefix(i, module)):
				t.Errorf("%s must not import %s", name, i)
			case ours:
			case strings.Contains(strings.Split(i, "/")[0], "."):
				if !libraryAllowed(i, name) {
					t.Errorf("%s must not import %s", name, i)
				}
			case strings.HasSuffix(name, "test"): // what only tests import may use chance
			case slices.Contains(impure, i) && !strings.HasPrefix(name, "cmd/"):
				t.Errorf("%s must not import %s: only cmd may touch the disk, the clock or chance", name, i)
			}
		}
	}
	for name := range arrow {
		if !seen[name] {
			t.Errorf("%s is in the table of this test, but there is no such package", name)
		}
	}
}

func libraryAllowed(path, importer string) bool {
	for library, importers := range libraries {
		if path == library || strings.HasPrefix(path, library+"/") {
			return slices.Contains(importers, importer)
		}
	}
	return false
}

// The table itself must hold no circle: every package stands above what it
// imports.
func TestArrowIsStraight(t *testing.T) {
	var visit func(name string, path []string)
	visit = func(name string, path []string) {
		if slices.Contains(path, name) {
			t.Fatalf("a circle: %s", strings.Join(append(path, name), " → "))
		}
		for _, i := range arrow[name] {
			visit(i, append(path, name))
		}
	}
	for name := range arrow {
		visit(name, nil)
	}
	// No package may look up the line.
	order := []string{"biquad", "compiler", "targets", "cmd"}
	for name, imports := range arrow {
		if name == "golden" {
			continue
		}
		for _, i := range imports {
			if slices.Index(order, strings.Split(i, "/")[0]) > slices.Index(order, strings.Split(name, "/")[0]) {
				t.Errorf("the table lets %s import %s, which is above it", name, i)
			}
		}
	}
}

type pkg struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "./...")
	cmd.Dir = ".."
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pkg
	dec := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p pkg
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

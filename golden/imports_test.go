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

// order is the house from the top down: a package may import those of the rows
// below its own, and no other. A new package is put here on purpose, or the test
// fails; a printer in targets and a package of tests beside its own need no entry.
var order = [][]string{
	{"cmd/bandwright"},
	{"targets"},
	{"targets/*"}, // no printer imports another
	{"compiler/compare"},
	{"compiler/result"},
	{"compiler/brief", "compiler/cname", "compiler/finished", "compiler/picture"},
	{"compiler"},
	{"compiler/diagnosis", "compiler/drawing", "compiler/grammar", "compiler/production"},
	{"compiler/batch"},
	{"compiler/board", "compiler/digital", "compiler/promise"},
	{"compiler/design"},
	{"compiler/values"},
	{"compiler/stage", "compiler/suggest"},
	{"compiler/circuit", "compiler/measured", "compiler/prototype"},
	{"compiler/nodal"},
	{"compiler/netlist"},
	{"compiler/acoustic"},
	{"compiler/assign", "compiler/language", "compiler/sweep", "compiler/verify"}, // so assign knows no electronics, and verify no realisation
	{"compiler/parallel", "compiler/progress", "compiler/wave", "compiler/words"},
	{"biquad/discretize", "biquad/engine", "biquad/number"},
	{"biquad"},
}

// leaves import none of ours at all.
var leaves = []string{"biquad", "compiler/netlist", "compiler/parallel", "compiler/progress", "compiler/wave", "compiler/words"}

// libraries says which packages may import which module of others; tests may
// import any.
var libraries = map[string][]string{
	"github.com/alecthomas/kong": {"cmd/bandwright"},
	"github.com/goccy/go-yaml":   {"compiler/language"},
	"golang.org/x/sys":           {"biquad/discretize"}, // what the processor can do
	"gonum.org/v1/gonum":         {"compiler/nodal", "compiler/prototype", "compiler/sweep"},
}

// impure are the standard packages that bring in the disk, the clock, chance
// or the environment: only the command may have them.
var impure = []string{"os", "os/exec", "os/signal", "time", "math/rand", "math/rand/v2", "crypto/rand", "net", "net/http", "syscall", "path/filepath"}

func TestImportsPointDown(t *testing.T) {
	seen := map[string]bool{}
	used := map[string]bool{}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		if strings.HasPrefix(name, "golden") {
			if len(p.Imports) > 0 {
				t.Errorf("%s holds more than tests", name)
			}
			continue
		}
		seen[entry(name)] = true
		if rank(name) < 0 {
			t.Errorf("%s is not in the order of this test: add it", name)
			continue
		}
		for _, i := range p.Imports {
			ours, isOurs := strings.CutPrefix(i, module)
			library := libraryOf(i)
			switch {
			case isOurs:
				if !mayImport(name, ours) {
					t.Errorf("%s must not import %s", name, ours)
				}
			case library != "":
				used[library+" "+name] = true
				if !slices.Contains(libraries[library], name) {
					t.Errorf("%s must not import %s", name, i)
				}
			case forTest(name): // what only tests import may use chance
			case slices.Contains(impure, i) && !strings.HasPrefix(name, "cmd/"):
				t.Errorf("%s must not import %s: only cmd may touch the disk, the clock or chance", name, i)
			}
		}
	}
	for _, names := range order {
		for _, name := range names {
			if !seen[name] {
				t.Errorf("%s is in the order of this test, but there is no such package", name)
			}
		}
	}
	for library, importers := range libraries {
		for _, name := range importers {
			if !used[library+" "+name] {
				t.Errorf("%s may import %s, and does not", name, library)
			}
		}
	}
}

// forTest tells the packages that only tests import: they stand beside the one
// that they test, under its name with test behind it.
func forTest(name string) bool { return strings.HasSuffix(name, "test") }

// entry is what a package is called in the order.
func entry(name string) string {
	switch {
	case forTest(name):
		return name[:strings.LastIndex(name, "/")]
	case strings.HasPrefix(name, "targets/"):
		return "targets/*"
	}
	return name
}

// rank is where a package stands in the order, -1 where it does not.
func rank(name string) int {
	return slices.IndexFunc(order, func(names []string) bool { return slices.Contains(names, entry(name)) })
}

// mayImport says whether the order lets a package of ours import another.
func mayImport(name, other string) bool {
	switch {
	case forTest(other), slices.Contains(leaves, name), rank(other) < 0:
		return false
	case forTest(name) && other == entry(name):
		return true
	}
	return rank(other) > rank(name)
}

// libraryOf is the module of others that a package belongs to, by its entry in
// libraries or else its path; "" for the standard library.
func libraryOf(path string) string {
	for library := range libraries {
		if path == library || strings.HasPrefix(path, library+"/") {
			return library
		}
	}
	if strings.Contains(strings.Split(path, "/")[0], ".") {
		return path
	}
	return ""
}

// Every package of the order has its row in DEVELOPERS.md: what comes in, what
// goes out.
func TestHousePackagesAreDescribed(t *testing.T) {
	text := read(t, "../DEVELOPERS.md")
	for _, name := range slices.Concat(order...) {
		if name != "targets/*" && !strings.Contains(text, "\n| `"+name+"` | ") {
			t.Errorf("DEVELOPERS.md has no row on %s", name)
		}
	}
}

// The order must refuse what it is for.
func TestArrowBites(t *testing.T) {
	for _, c := range []struct {
		name, other string
		may         bool
	}{
		{"cmd/bandwright", "targets", true},
		{"targets", "cmd/bandwright", false},
		{"targets/report", "targets/json", false},
		{"targets/new", "compiler", true},
		{"compiler", "targets/new", false},
		{"compiler/assign", "compiler/netlist", false},
		{"compiler/values", "compiler/assign", true},
		{"compiler/verify", "compiler/promise", false},
		{"compiler/words", "biquad", false},
		{"biquad/number", "biquad", true},
		{"biquad/number", "biquad/discretize", false},
		{"biquad", "compiler/words", false},
		{"compiler/circuit/circuittest", "compiler/circuit", true},
		{"compiler/circuit", "compiler/circuit/circuittest", false},
		{"compiler/verify", "compiler/nowhere", false},
	} {
		if got := mayImport(c.name, c.other); got != c.may {
			t.Errorf("%s may import %s: %v", c.name, c.other, got)
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

package spec

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the goldens")

// badSpecs are the files of specs/bad by name.
func badSpecs(t testing.TB) map[string][]byte {
	paths, err := filepath.Glob("../../specs/bad/*.yaml")
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
// golden. A spec whose first line says `# meaning` may be one that only a later
// stage refuses; it has no golden here.
func TestBadSpecs(t *testing.T) {
	const dir = "testdata/bad"
	bad := badSpecs(t)
	for name, src := range bad {
		kind, _, _ := strings.Cut(string(src), "\n")
		if kind != "# grammar" && kind != "# meaning" {
			t.Errorf("%s: the first line is neither `# grammar` nor `# meaning`", name)
		}
		s, faults := Parse("specs/bad/"+name+".yaml", src, lang)
		if (s == nil) != (len(faults) > 0) {
			t.Errorf("%s: %d faults, but Spec nil is %v", name, len(faults), s == nil)
		}
		golden := filepath.Join(dir, name+".txt")
		want, err := os.ReadFile(golden)
		if len(faults) == 0 {
			if kind == "# grammar" || err == nil {
				t.Errorf("%s: accepted", name)
			}
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
			t.Errorf("%s: %s", name, firstDifference(got.String(), string(want)))
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

// firstDifference names the first line where two texts differ.
func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := 0; ; i++ {
		switch {
		case i == len(g) || i == len(w):
			return fmt.Sprintf("%d lines, want %d", len(g), len(w))
		case g[i] != w[i]:
			return fmt.Sprintf("line %d:\ngot  %s\nwant %s", i+1, g[i], w[i])
		}
	}
}

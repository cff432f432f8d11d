package golden

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
)

var update = flag.Bool("update", false, "rewrite the golden artefacts")

// written are the folders beside the golden ones that people write: published
// values and the independent judges.
var written = []string{"published", "judge", "testdata"}

// hashed are artefacts that are too large to keep, and that nobody reads as a difference: of
// these the index, which is kept, has the SHA-256.
var hashed = []string{"report.html"}

// elsewhereTolerance is how far numbers may differ, relative, on machines
// whose compiler fuses products and sums: twelve digits agreed in all of 8,000
// coefficients compared with and without fusing, and an error of -60 dB that
// is computed from them keeps nine.
const elsewhereTolerance = 1e-9

// TestGolden compiles every shipped spec and compares every artefact with its
// golden file. A golden file that nothing makes fails as well.
func TestGolden(t *testing.T) {
	made := map[string][]byte{}
	for _, path := range shipped(t) {
		_, files := compile(t, path)
		for _, f := range files {
			if !slices.Contains(hashed, f.Name) {
				made[folderOf(files)+"/"+f.Name] = f.Data
			}
		}
	}
	if *update {
		rewrite(t, made)
		return
	}
	for _, text := range differences(t, made, goldens(t)) {
		t.Error(text)
	}
}

// differences says of every artefact that is not as stored what changed: in
// lines, and for an index in decibels.
func differences(t *testing.T, made, stored map[string][]byte) []string {
	t.Helper()
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for _, name := range sorted(made) {
		want, ok := stored[name]
		switch {
		case !ok:
			add("%s has no golden file: `make golden` writes it", name)
		case exact() && bytes.Equal(made[name], want):
		case !exact() && numbersAgree(string(made[name]), string(want), elsewhereTolerance):
		default:
			add("%s differs from its golden file:\n%s%s", name,
				lineDifference(string(want), string(made[name])), responseChange(t, name, want, made[name]))
		}
	}
	for _, name := range sorted(stored) {
		if made[name] == nil {
			add("%s is an orphan: no shipped spec makes it; `make golden` removes it", name)
		}
	}
	return out
}

// exact says whether goldens are byte for byte here: on amd64 at its base
// level, where the compiler fuses nothing.
func exact() bool {
	if runtime.GOARCH != "amd64" {
		return false
	}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "GOAMD64" {
				return s.Value == "v1"
			}
		}
	}
	return true
}

// folderOf is the golden folder of a spec's artefacts: the name on its index,
// the last file.
func folderOf(files []compiler.File) string {
	return strings.TrimSuffix(files[len(files)-1].Name, ".json")
}

// goldens reads every stored file but the written ones, by slash-separated
// name.
func goldens(t *testing.T) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(".", func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && slices.Contains(written, path):
			return fs.SkipDir
		case e.IsDir() || !strings.Contains(filepath.ToSlash(path), "/"):
			return nil
		}
		data, err := os.ReadFile(path)
		out[filepath.ToSlash(path)] = data
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// rewrite deletes every golden folder first, which proves that all of it can
// be made again.
func rewrite(t *testing.T, made map[string][]byte) {
	t.Helper()
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.IsDir() && !slices.Contains(written, e.Name()) {
			if err := os.RemoveAll(e.Name()); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, name := range sorted(made) {
		path := filepath.FromSlash(name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, made[name], 0o666); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("wrote %d golden files", len(made))
}

func sorted(m map[string][]byte) []string {
	var names []string
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A folder whose files are not one run's is told from NAME.json's checksums,
// whatever became of it.
func TestBuiltFolder(t *testing.T) {
	spec := small("pipit", loose, "float32")
	for _, c := range []struct {
		name string
		harm func(t *testing.T, dir string)
		code int
		says string
	}{
		{"whole", func(*testing.T, string) {}, 0, "holds all files of one run of this spec"},
		{"user's own file beside them", func(t *testing.T, dir string) { put(t, filepath.Join(dir, "out/mine.txt"), "x") }, 0, "holds all files"},
		{"a header of another run", func(t *testing.T, dir string) {
			other := strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1)
			put(t, filepath.Join(dir, "other.yaml"), other)
			if r := bandwright(t, dir, "compile", "other.yaml", "-o", "other"); r.code != 0 {
				t.Fatal(r)
			}
			if err := os.Rename(filepath.Join(dir, "other/pipit_float32.h"), filepath.Join(dir, "out/pipit_float32.h")); err != nil {
				t.Fatal(err)
			}
		}, 1, "out/pipit_float32.h differs from the file that pipit.json lists"},
		{"a file lost", func(t *testing.T, dir string) { os.Remove(filepath.Join(dir, "out/report.txt")) }, 1, "out/report.txt is missing"},
		{"a spec edited since", func(t *testing.T, dir string) { put(t, filepath.Join(dir, "pipit.yaml"), spec+"\n# later\n") }, 1, "another version of the spec"},
		{"an index cut short", func(t *testing.T, dir string) { put(t, filepath.Join(dir, "out/pipit.json"), `{"bandwright": 1`) }, 1, "pipit.json"},
		{"an index that points elsewhere", func(t *testing.T, dir string) {
			path := filepath.Join(dir, "out/pipit.json")
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			put(t, path, strings.Replace(string(data), `"report.txt"`, `"../report.txt"`, 1))
		}, 1, "outside of its folder"},
		{"nothing built", func(t *testing.T, dir string) { os.Remove(filepath.Join(dir, "out/pipit.json")) }, 2, "no build found"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := place(t, "pipit.yaml", spec)
			if r := bandwright(t, dir, "compile", "pipit.yaml", "-o", "out"); r.code != 0 {
				t.Fatal(r)
			}
			c.harm(t, dir)
			for _, format := range []string{"text", "json", "github", "junit"} {
				r := bandwright(t, dir, "check", "pipit.yaml", "--built", "out", "--format", format)
				if r.code != c.code {
					t.Errorf("%s: exit %d, want %d: %s%s", format, r.code, c.code, r.out, r.err)
				}
				if format == "text" && !strings.Contains(r.out+r.err, c.says) {
					t.Errorf("not said %q: %s%s", c.says, r.out, r.err)
				}
				if format != "text" && c.code > 0 && !strings.Contains(strings.ReplaceAll(r.out, "&#39;", "'"), c.says) {
					t.Errorf("%s does not say %q: %s", format, c.says, r.out)
				}
			}
		})
	}
	if r := bandwright(t, t.TempDir(), "check", "a.yaml", "b.yaml", "--built", "out"); r.code != 2 {
		t.Errorf("two specs with --built: %+v", r)
	}
}

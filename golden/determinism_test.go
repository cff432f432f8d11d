package golden

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The same spec gives the same bytes on every run, in whatever folder, on one
// processor or many, whatever the environment says, from a second build: the
// program's, built twice and run in two ways, and those made in this process.
func TestRunsAreByteIdentical(t *testing.T) {
	binary, other := filepath.Join(t.TempDir(), "bandwright"), filepath.Join(t.TempDir(), "other")
	for _, args := range [][]string{{"-o", binary}, {"-trimpath", "-ldflags=-s -w", "-o", other}} {
		build := exec.Command("go", append(append([]string{"build"}, args...), "../cmd/bandwright")...)
		if out, err := build.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	for _, path := range shipped(t) {
		spec, err := filepath.Abs(path)
		if err != nil {
			t.Fatal(err)
		}
		_, files := compile(t, path)
		here := map[string][]byte{}
		for _, f := range files {
			here[f.Name] = f.Data
		}
		one, said := outputOf(t, binary, spec, "GOMAXPROCS=1")
		many, saidAgain := outputOf(t, other, spec, "GOMAXPROCS=7", "GOGC=10", "TZ=Pacific/Apia", "LANG=tr_TR.UTF-8", "LC_ALL=de_DE.UTF-8")
		if said != saidAgain {
			t.Errorf("%s: the summary differs:\n%s\n%s", path, said, saidAgain)
		}
		for what, again := range map[string]map[string][]byte{"one processor": one, "many processors": many} {
			if len(here) != len(again) {
				t.Errorf("%s, %s: %d files, then %d", path, what, len(here), len(again))
			}
			for _, name := range sorted(here) {
				if !bytes.Equal(here[name], again[name]) {
					t.Errorf("%s, %s: %s differs:\n%s", path, what, name, lineDifference(string(here[name]), string(again[name])))
				}
			}
		}
	}
}

// outputOf runs compile in a fresh folder and returns the files and the
// summary.
func outputOf(t *testing.T, binary, spec string, env ...string) (map[string][]byte, string) {
	t.Helper()
	dir := t.TempDir()
	cmd := exec.Command(binary, "compile", spec, "-o", "out")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), env...)
	var problems bytes.Buffer
	cmd.Stderr = &problems
	said, err := cmd.Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == 1 {
		err = nil // a broken promise is an answer as well
	}
	if err != nil {
		t.Fatalf("%s: %v\n%s", spec, err, problems.String())
	}
	files := map[string][]byte{}
	out := filepath.Join(dir, "out")
	err = filepath.WalkDir(out, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(out, path)
		if err != nil {
			return err
		}
		files[filepath.ToSlash(name)], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files, string(said)
}

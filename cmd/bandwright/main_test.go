package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// binary is the program under test, built once.
var binary string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "bandwright")
	if err == nil {
		err = os.Chmod(dir, 0o755) // other users run it as well
	}
	if err == nil {
		binary = filepath.Join(dir, "bandwright")
		var out []byte
		if out, err = exec.Command("go", "build", "-o", binary, ".").CombinedOutput(); err != nil {
			err = fmt.Errorf("%w\n%s", err, out)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// small is a spec of the given name; its one way keeps a magnitude
// promise of 3 dB and breaks one of 0.1 dB.
func small(name, magnitude, formats string) string {
	return fmt.Sprintf(`bandwright: 1
name: %s
revision: A1
ways:
  low:
    filters:
      - low-pass: {family: butterworth, order: 2, at: 200 Hz}
promise: {magnitude: %s}
digital:
  rates: [48 kHz]
  formats: [%s]
  method: bilinear
`, name, magnitude, formats)
}

const (
	loose = "3 dB"
	tight = "0.1 dB"
)

// place is a fresh folder that other users may enter, holding the files given
// as name, text, name, text ….
func place(t *testing.T, files ...string) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "bandwright")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(files); i += 2 {
		put(t, filepath.Join(dir, files[i]), files[i+1])
	}
	return dir
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// ran is what a run of the program gave.
type ran struct {
	code     int
	out, err string
}

// bandwright runs the program in dir.
func bandwright(t *testing.T, dir string, args ...string) ran {
	t.Helper()
	cmd := exec.Command(binary, args...)
	cmd.Dir = dir
	return finish(t, cmd)
}

// finish runs a prepared command.
func finish(t *testing.T, cmd *exec.Cmd) ran {
	t.Helper()
	var out, errs bytes.Buffer
	if cmd.Stdout == nil {
		cmd.Stdout = &out
	}
	cmd.Stderr = &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	r := ran{cmd.ProcessState.ExitCode(), out.String(), errs.String()}
	if strings.ContainsRune(r.out+r.err, '\x1b') {
		t.Errorf("an escape sequence although nobody looks at a terminal: %q", r.out+r.err)
	}
	return r
}

// tree is every file below dir with its text; links and folders by their kind.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		switch {
		case e.Type().IsRegular():
			data, err := os.ReadFile(path)
			out[name] = string(data)
			return err
		default:
			out[name] = e.Type().String()
		}
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return out
}

// same demands that nothing changed below dir.
func same(t *testing.T, what, dir string, before map[string]string) {
	t.Helper()
	after := tree(t, dir)
	for name, text := range before {
		if got, ok := after[name]; !ok {
			t.Errorf("%s: %s is gone", what, name)
		} else if got != text {
			t.Errorf("%s: %s changed", what, name)
		}
	}
	for name := range after {
		if _, ok := before[name]; !ok {
			t.Errorf("%s: %s appeared", what, name)
		}
	}
}

// expect demands an exit code and texts in what was printed.
func expect(t *testing.T, what string, r ran, code int, texts ...string) {
	t.Helper()
	if r.code != code {
		t.Errorf("%s: exit code %d, want %d\nstdout:\n%s\nstderr:\n%s", what, r.code, code, r.out, r.err)
	}
	// Tables and sentences wrap where the page ends: spaces count as one.
	said := strings.Join(strings.Fields(r.out+r.err), " ")
	for _, text := range texts {
		if !strings.Contains(said, strings.TrimSpace(text)) {
			t.Errorf("%s: %q is missing\nstdout:\n%s\nstderr:\n%s", what, text, r.out, r.err)
		}
	}
}

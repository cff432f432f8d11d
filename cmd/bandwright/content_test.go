package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// diff takes files of revisions, and tells files by what is in them.
func TestDiffOfRevisions(t *testing.T) {
	dir, spec := acceptedWren(t)
	in := func(path string, command ...string) ran {
		t.Helper()
		cmd := exec.Command(command[0], command[1:]...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "PATH="+path, "HOME="+dir, "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_GLOBAL="+filepath.Join(dir, "none"),
			"GIT_AUTHOR_NAME=A", "GIT_AUTHOR_EMAIL=a@example.org", "GIT_COMMITTER_NAME=A", "GIT_COMMITTER_EMAIL=a@example.org")
		return finish(t, cmd)
	}
	git := func(args ...string) {
		t.Helper()
		if r := in(os.Getenv("PATH"), append([]string{"git"}, args...)...); r.code != 0 {
			t.Fatalf("git %q: %s%s", args, r.out, r.err)
		}
	}
	diff := func(args ...string) ran { return in(os.Getenv("PATH"), append([]string{binary, "diff"}, args...)...) }
	const why = "because ways.low.filters[0].at went from 200 Hz to 210 Hz"

	expect(t, "outside of a repository", diff("HEAD:wren.yaml", "wren.yaml"), exitRefused, "there is no file HEAD:wren.yaml", "not a git repository")
	git("init", "-q")
	git("add", "wren.yaml", "accepted")
	git("commit", "-q", "-m", "first")
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: 210 Hz", 1))
	expect(t, "a revision", diff("HEAD:wren.yaml", "wren.yaml"), exitBroken, why)
	expect(t, "a revision's accepted result", diff("HEAD:accepted/wren.accepted.json", "wren.yaml"), exitBroken, why)
	git("add", "wren.yaml")
	expect(t, "what is staged", diff("HEAD:wren.yaml", ":wren.yaml"), exitBroken, why)
	git("commit", "-q", "-m", "second")
	expect(t, "two revisions", diff("HEAD~1:wren.yaml", "HEAD:wren.yaml", "--format", "github"), exitBroken, "::error file=wren.yaml,line=7::")
	expect(t, "no such revision", diff("none:wren.yaml", "wren.yaml"), exitRefused, "there is no file none:wren.yaml", "invalid object name 'none'")
	expect(t, "no such file", diff("HEAD:finch.yaml", "wren.yaml"), exitRefused, "'finch.yaml' does not exist in 'HEAD'")
	expect(t, "a folder", diff("HEAD:accepted", "wren.yaml"), exitRefused, "HEAD:accepted is a folder")
	expect(t, "without git", in(dir, binary, "diff", "HEAD:wren.yaml", "wren.yaml"), exitRefused, "git, which could find it in a revision, is not installed")
	put(t, filepath.Join(dir, "HEAD:wren.yaml"), spec)
	git("add", "-A")
	git("commit", "-q", "-m", "third")
	expect(t, "a file with a colon in its name", diff("HEAD:wren.yaml", "wren.yaml"), exitBroken, why)

	// Any name will do.
	if r := bandwright(t, dir, "compile", "wren.yaml", "-o", "out"); r.code != exitKept {
		t.Fatal(r.err)
	}
	for from, to := range map[string]string{"accepted/wren.accepted.json": "old", "out/wren.json": "new.yaml", "wren.yaml": "spec.json"} {
		data, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(dir, to), string(data))
	}
	expect(t, "an accepted result and a spec", diff("old", "spec.json"), exitBroken, why)
	expect(t, "a NAME.json", diff("old", "new.yaml"), exitBroken, "low: +0.84 dB", "the cause cannot be traced without both specs")
	expect(t, "a NAME.json and its spec", diff("new.yaml", "spec.json"), exitKept, "wren: no change")
	put(t, filepath.Join(dir, "half"), "{\n \"accepted\": 1,\n<<<<<<< ours\n")
	expect(t, "a merge left open", diff("half", "wren.yaml"), exitRefused, "half: not an accepted result")
}

// A spec takes the files that it names from its own folder, in a revision as well. A
// board that changed because of them says so.
func TestDiffOfInputs(t *testing.T) {
	const spec = "bandwright: 1\nname: tern\nways: {bass: {filters: [{low-pass: {at: 300 Hz, q: 0.7}}]}}\npromise: {board-magnitude: off}\n" +
		"board: {resistors: {series: E24}, capacitors: {stock: parts/c.csv}}\n"
	const stock = "part,value,tolerance\nF1,10 nF,5 %\nF2,22 nF,5 %\nF3,47 nF,5 %\nF4,100 nF,5 %\n"
	dir := place(t, "specs/tern.yaml", spec, "specs/parts/c.csv", stock)
	git := func(args ...string) {
		t.Helper()
		cmd := exec.Command("git", append([]string{"-c", "user.name=A", "-c", "user.email=a@example.org"}, args...)...)
		cmd.Dir = dir
		if r := finish(t, cmd); r.code != 0 {
			t.Fatalf("git %q: %s%s", args, r.out, r.err)
		}
	}
	git("init", "-q")
	git("add", "specs")
	git("commit", "-q", "-m", "first")
	expect(t, "no change", bandwright(t, dir, "diff", "HEAD:specs/tern.yaml", "specs/tern.yaml"), exitKept, "tern: no change")
	put(t, filepath.Join(dir, "specs/stock/d.csv"), stock)
	put(t, filepath.Join(dir, "specs/tern.yaml"), strings.Replace(spec, "parts/c.csv", "stock/d.csv", 1))
	moved := bandwright(t, dir, "diff", "HEAD:specs/tern.yaml", "specs/tern.yaml")
	expect(t, "a stock file that was moved", moved, exitKept, "* board.capacitors.stock went from parts/c.csv to stock/d.csv: the same file under another name")
	if strings.Count(moved.out, "\n* ") != 1 {
		t.Error(moved.out)
	}
	put(t, filepath.Join(dir, "specs/stock/d.csv"), strings.Replace(stock, "F2,22 nF", "F2,27 nF", 1))
	moved = bandwright(t, dir, "diff", "HEAD:specs/tern.yaml", "specs/tern.yaml")
	expect(t, "one that is another as well", moved, moved.code, "because board.capacitors.stock went from parts/c.csv to stock/d.csv")
	if strings.Contains(moved.out, "the same file") {
		t.Error(moved.out)
	}
	put(t, filepath.Join(dir, "specs/tern.yaml"), spec)
	put(t, filepath.Join(dir, "specs/parts/c.csv"), strings.NewReplacer("F2,22 nF", "F2,27 nF", "F3,47 nF", "F3,56 nF").Replace(stock))
	r := bandwright(t, dir, "diff", "HEAD:specs/tern.yaml", "specs/tern.yaml")
	expect(t, "another stock file", r, r.code, "parts in 3 stages changed, because parts/c.csv is another file")
	if strings.Contains(r.out, "Bandwright itself") {
		t.Error(r.out)
	}
	put(t, filepath.Join(dir, "specs/parts/c.csv"), strings.Replace(stock, "22 nF", "22", 1))
	expect(t, "a fault of the file", bandwright(t, dir, "check", "specs/tern.yaml"), exitRefused,
		"specs/parts/c.csv:3:4: error: `22` has no unit", "1 error in specs/parts/c.csv")
	expect(t, "a fault of the file, for machines", bandwright(t, dir, "check", "specs/tern.yaml", "--format", "json"), exitRefused, "\"specs/parts/c.csv:3:4: `22` has no unit")
	expect(t, "a fault of the file, beside the spec", bandwright(t, dir, "check", "specs/tern.yaml", "--format", "github"), exitRefused, "::error file=specs/tern.yaml::specs/parts/c.csv:3:4: `22` has no unit")
	git("rm", "-q", "--cached", "specs/parts/c.csv")
	git("commit", "-q", "-m", "second")
	expect(t, "a file that is in no revision", bandwright(t, dir, "diff", "HEAD:specs/tern.yaml", "specs/tern.yaml"), exitRefused, "HEAD:specs/tern.yaml:5:55: error: there is no file `parts/c.csv` beside the spec")
}

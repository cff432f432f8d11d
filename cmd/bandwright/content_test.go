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

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// example marks a fenced block of README.md that is run here, by its name.
var example = regexp.MustCompile("(?s)<!-- run: ([a-z-]+) -->\n+```sh\n(.*?)```")

// examples are the blocks of README.md that are run.
func examples(t *testing.T) map[string]string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, m := range example.FindAllStringSubmatch(string(text), -1) {
		out[m[1]] = m[2]
	}
	return out
}

// A newcomer's steps in a copy of the tree, as README.md has them: build it,
// compile a spec that ships, install the program, write specs and compile them.
func TestReadmeFirstSteps(t *testing.T) {
	scripts := examples(t)
	dir := place(t, "work/x", "")
	for _, name := range []string{"cmd", "compiler", "biquad", "targets", "specs"} {
		if err := os.CopyFS(filepath.Join(dir, "clone", name), os.DirFS("../../"+name)); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"go.mod", "go.sum", "Makefile"} {
		data, err := os.ReadFile("../../" + name)
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(dir, "clone", name), string(data))
	}
	modules, err := exec.Command("go", "env", "GOMODCACHE").Output()
	if err != nil {
		t.Fatal(err)
	}
	run := func(folder, script string) ran {
		t.Helper()
		if script == "" {
			t.Fatal("README.md has lost an example")
		}
		cmd := exec.Command("sh", "-e", "-c", script)
		cmd.Dir = filepath.Join(dir, folder)
		// Without paths packages are those of any other folder, so that they are compiled once.
		cmd.Env = append(os.Environ(), "GOPATH="+filepath.Join(dir, "go"), "GOBIN=", "GOMODCACHE="+strings.TrimSpace(string(modules)), "GOFLAGS=-trimpath")
		return finish(t, cmd)
	}
	expect(t, "first", run("clone", scripts["first"]), exitKept, "KEPT", "wrote", "heron.json")
	expect(t, "install", run("clone", scripts["install"]), exitKept, "bandwright")
	path := "PATH=" + filepath.Join(dir, "go/bin") + ":$PATH\n"
	r := run("work", path+scripts["start"])
	expect(t, "start", r, exitKept, "wagtail_float32.h", "wheatear_parts.csv")
	if strings.Count(r.out, "KEPT") != 2 {
		t.Errorf("README's first specs:\n%s", r.out)
	}
}

// The board that README.md holds is the one that ships, and it stands.
func TestReadmeHold(t *testing.T) {
	script := examples(t)["hold"]
	if script == "" {
		t.Fatal("README.md has no example hold")
	}
	dir := place(t, "x", "")
	if err := os.CopyFS(filepath.Join(dir, "specs"), os.DirFS("../../specs")); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	in, _ := repository(t, dir, dir)
	expect(t, "hold", in(dir, "sh", "-e", "-c", script), exitKept, "the board stands as held: no part changed", "it was not touched")
	same(t, "hold", dir, before)
}

// The README's examples keep a repository of specs: what moved and was
// not accepted is neither committed nor passed by the build server.
func TestReadmeExamples(t *testing.T) {
	scripts := examples(t)
	for _, name := range []string{"accept", "ci", "pre-commit", "merge"} {
		if scripts[name] == "" {
			t.Fatalf("README.md has no example %s", name)
		}
	}
	spec := small("wren", loose, "float32")
	dir := place(t, "repo/specs/wren.yaml", spec, "repo/specs/finch.yaml", small("finch", loose, "float32"), "repo/notes.txt", "")
	repo := filepath.Join(dir, "repo")
	put(t, filepath.Join(dir, "accept"), scripts["accept"])
	put(t, filepath.Join(dir, "ci"), scripts["ci"])
	in, git := repository(t, dir, repo)
	edit := func(to string) {
		t.Helper()
		put(t, filepath.Join(repo, "specs/wren.yaml"), strings.Replace(spec, "at: 200 Hz", "at: "+to, 1))
	}
	const sentence = "because ways.low.filters[0].at went from 200 Hz to 210 Hz"

	git(0, "init", "-q")
	hook := filepath.Join(repo, ".git/hooks/pre-commit")
	put(t, hook, scripts["pre-commit"])
	if err := os.Chmod(hook, 0o755); err != nil {
		t.Fatal(err)
	}
	git(0, "add", "-A")
	expect(t, "nothing accepted yet", git(1, "commit", "-q", "-m", "specs"), 1, "nothing was accepted yet")
	expect(t, "accept", in(repo, "sh", "../accept"), exitKept, "wrote accepted/finch.accepted.json", "wrote accepted/wren.accepted.json")
	git(0, "add", "-A")
	git(0, "commit", "-q", "-m", "specs, accepted")

	edit("210 Hz")
	put(t, filepath.Join(repo, "notes.txt"), "more")
	git(0, "add", "notes.txt")
	git(0, "commit", "-q", "-m", "a change that is not staged")
	git(0, "add", "-A")
	expect(t, "the hook", git(1, "commit", "-q", "-m", "not meant"), 1, "wren: REGRESSION", sentence, "finch: no change")
	if r := git(0, "status", "--porcelain"); r.out != "M  specs/wren.yaml\n" {
		t.Errorf("the hook leaves traces:\n%s", r.out)
	}
	git(0, "commit", "-q", "--no-verify", "-m", "past the hook")

	clone := filepath.Join(dir, "clone")
	git(0, "clone", "-q", ".", clone)
	expect(t, "the build server", in(clone, "sh", "../ci"), exitBroken, "::error file=specs/wren.yaml,line=7::wren: REGRESSION", sentence)

	expect(t, "meant", in(repo, "sh", "../accept"), exitKept, sentence)
	git(0, "add", "-A")
	git(0, "commit", "-q", "-m", "meant and accepted")
	expect(t, "pull", in(clone, "git", "pull", "-q"), 0)
	if r := in(clone, "sh", "../ci"); r.code != exitKept || r.out+r.err != "" {
		t.Errorf("the build server once more: exit code %d, %s%s", r.code, r.out, r.err)
	}
}

// repository runs commands with the program in reach, and git in repo with the exit
// code that it has to have.
func repository(t *testing.T, dir, repo string) (in func(folder string, command ...string) ran, git func(want int, args ...string) ran) {
	in = func(folder string, command ...string) ran {
		t.Helper()
		cmd := exec.Command(command[0], command[1:]...)
		cmd.Dir = folder
		cmd.Env = append(os.Environ(),
			"PATH="+filepath.Dir(binary)+string(os.PathListSeparator)+os.Getenv("PATH"),
			"HOME="+dir, "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_GLOBAL="+filepath.Join(dir, "none"),
			"GIT_AUTHOR_NAME=A", "GIT_AUTHOR_EMAIL=a@example.org", "GIT_COMMITTER_NAME=A", "GIT_COMMITTER_EMAIL=a@example.org")
		return finish(t, cmd)
	}
	git = func(want int, args ...string) ran {
		t.Helper()
		r := in(repo, append([]string{"git"}, args...)...)
		if r.code != want {
			t.Fatalf("git %q: exit code %d, want %d\n%s%s", args, r.code, want, r.out, r.err)
		}
		return r
	}
	return in, git
}

// A merge is told beside both parents, before its commit and after it.
func TestReadmeMerge(t *testing.T) {
	scripts := examples(t)
	// Lines between the two that branches change.
	spec := strings.Replace(small("wren", loose, "float32"), "promise:", "# One way.\n# For a test.\n# No more.\npromise:", 1)
	dir := place(t, "repo/specs/wren.yaml", spec, "repo/specs/finch.yaml", small("finch", loose, "float32"), "accept", scripts["accept"], "merge", scripts["merge"])
	repo := filepath.Join(dir, "repo")
	in, git := repository(t, dir, repo)
	git(0, "init", "-q")
	// Two branches move one filter and one gain; their accepted results clash.
	branch := func(name, text string, checkout ...string) {
		git(0, append([]string{"checkout", "-q"}, checkout...)...)
		put(t, filepath.Join(repo, "specs/wren.yaml"), text)
		in(repo, "sh", "../accept")
		git(0, "add", "-A")
		git(0, "commit", "-q", "-m", name)
	}
	branch("first", spec, "-b", "first")
	branch("theirs", strings.Replace(spec, "magnitude: 3 dB", "magnitude: 4 dB", 1), "-b", "theirs")
	branch("ours", strings.Replace(spec, "at: 200 Hz", "at: 220 Hz", 1), "-b", "ours", "first")
	git(1, "merge", "-q", "--no-commit", "theirs")
	r := in(repo, "sh", "../merge")
	expect(t, "beside both parents", r, 1, "specs/wren.yaml beside HEAD:", "promise.magnitude went from 3 dB to 4 dB",
		"specs/wren.yaml beside MERGE_HEAD:", "because ways.low.filters[0].at went from 200 Hz to 220 Hz", "finch: no change")
	in(repo, "sh", "../accept")
	git(0, "add", "-A")
	git(0, "commit", "-q", "-m", "merged")
	if again := in(repo, "sh", "../merge", "HEAD^1", "HEAD^2"); strings.Count(again.out, "beside") != 4 {
		t.Errorf("after the commit:\n%s%s", again.out, again.err)
	}
}

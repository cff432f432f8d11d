package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Each shell itself completes lines by the script made for it.
func TestCompletion(t *testing.T) {
	verbs := []string{"check", "compile", "completion", "diff", "explain", "help", "hold", "new", "render", "schema", "stimulus", "suggest", "version"}
	groups := []string{"board", "cheader", "json", "layout", "report"}
	for _, shell := range []string{"bash", "zsh", "fish"} {
		t.Run(shell, func(t *testing.T) {
			dir := place(t, "heron.yaml", "", "two words.yaml", "", "notes.txt", "", "heron.json", "", "music.wav", "", "accepted/heron.accepted.json", "", "specs/tern.yaml", "")
			script := filepath.Join(dir, "script")
			put(t, script, bandwright(t, dir, "completion", shell).out)
			cases := []struct {
				line string
				want []string
			}{
				{"bandwright ", verbs},
				{"bandwright com", []string{"compile", "completion"}},
				{"bandwright --h", []string{"--help"}},
				{"bandwright compile h", []string{"heron.yaml"}},
				{"bandwright compile specs/t", []string{"specs/tern.yaml"}},
				{"bandwright compile heron.yaml -o ", []string{"accepted/", "specs/"}},
				{"bandwright compile heron.yaml --out ", []string{"accepted/", "specs/"}},
				{"bandwright compile heron.yaml --out=s", []string{"specs/"}},
				{"bandwright compile -o specs ", []string{"accepted/", "heron.yaml", "specs/", "two words.yaml"}},
				{"bandwright compile --on", []string{"--only"}},
				{"bandwright compile heron.yaml --only ", groups},
				{"bandwright compile heron.yaml --only=", groups},
				{"bandwright compile heron.yaml --only=re", []string{"report"}},
				{"bandwright compile heron.yaml --only cheader,re", []string{"cheader,report"}},
				{"bandwright check heron.yaml t", []string{"two words.yaml"}},
				{"bandwright check heron.yaml --against a", []string{"accepted/"}},
				{"bandwright check heron.yaml --acc", []string{"--accept"}},
				{"bandwright check heron.yaml --format ", []string{"github", "json", "junit", "text"}},
				{"bandwright check heron.yaml --mea", []string{"--measured"}},
				{"bandwright check heron.yaml --reference m", []string{"music.wav"}},
				{"bandwright diff h", []string{"heron.json", "heron.yaml"}},
				{"bandwright help com", []string{"compile", "completion"}},
				{"bandwright diff heron.yaml accepted/", []string{"accepted/heron.accepted.json"}},
				{"bandwright diff --format=j", []string{"json", "junit"}},
				{"bandwright explain h", []string{"heron.yaml"}},
				{"bandwright hold h", []string{"heron.yaml"}},
				{"bandwright hold heron.yaml --w", []string{"--without"}},
				{"bandwright new --ways ", []string{"1", "2", "3", "4"}},
				{"bandwright new ", nil},
				{"bandwright schema ", []string{"held", "spec"}},
				{"bandwright render heron.yaml m", []string{"music.wav"}},
				{"bandwright render heron.yaml music.wav --format ", []string{"float32", "float64", "q23", "q31"}},
				{"bandwright stimulus --le", []string{"--length", "--level"}},
				{"bandwright suggest h", []string{"heron.yaml"}},
				{"bandwright suggest heron.yaml treble --response n", []string{"notes.txt"}},
				{"bandwright completion ", []string{"bash", "fish", "zsh"}},
			}
			var lines []string
			for _, c := range cases {
				lines = append(lines, c.line)
			}
			for i, got := range completed(t, shell, dir, script, lines) {
				if !slices.Equal(got, cases[i].want) {
					t.Errorf("%q: %q, want %q", lines[i], got, cases[i].want)
				}
			}
		})
	}
}

// completed is what a shell offers at the end of each line, sorted, as the
// whole word that would stand there, folders with a slash.
func completed(t *testing.T, shell, dir, script string, lines []string) [][]string {
	t.Helper()
	drivers, err := filepath.Abs("testdata")
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	run := func(args ...string) string {
		cmd := exec.Command(shell, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home)
		var problems strings.Builder
		cmd.Stderr = &problems
		out, err := cmd.Output()
		if err != nil || problems.Len() > 0 {
			t.Fatalf("%s %q: %v\n%s%s", shell, args, err, out, problems.String())
		}
		return string(out)
	}
	var answers []string
	switch shell {
	case "bash":
		for _, line := range lines {
			// Readline makes a word of each equals sign.
			words := strings.Split(strings.ReplaceAll(line, "=", " = "), " ")
			if strings.HasSuffix(line, "=") {
				words = words[:len(words)-1]
			}
			answers = append(answers, run(append([]string{"--norc", filepath.Join(drivers, "complete.bash"), script}, words...)...))
		}
	case "zsh":
		answers = strings.SplitAfter(run(append([]string{"-f", filepath.Join(drivers, "complete.zsh"), script}, lines...)...), "over\n")
	case "fish":
		for _, line := range lines {
			answers = append(answers, run("--no-config", "-c", "source $argv[1]; complete -C $argv[2]", script, line))
		}
	}
	var out [][]string
	for i, line := range lines {
		if i >= len(answers) {
			t.Fatalf("%s: no answer to %q", shell, line)
		}
		out = append(out, offered(answers[i], shell, dir, line[strings.LastIndex(line, " ")+1:]))
	}
	return out
}

// offered are the words of a shell's answer where typed stands already.
func offered(answer, shell, dir, typed string) []string {
	var out []string
	for _, word := range strings.Split(answer, "\n") {
		word, _, _ = strings.Cut(word, "\t") // fish explains behind a tab
		if word == "" || word == "over" {
			continue
		}
		if shell == "zsh" { // it has quoted the word, and left out what is complete before it
			whole := typed[:strings.LastIndexAny(typed, "/,")+1]
			word = whole + strings.ReplaceAll(word, `\ `, " ")
		}
		if flag, _, both := strings.Cut(typed, "="); both { // one word to fish
			word = strings.TrimPrefix(word, flag+"=")
		}
		if info, err := os.Stat(filepath.Join(dir, word)); err == nil && info.IsDir() {
			word = strings.TrimSuffix(word, "/") + "/"
		}
		out = append(out, word)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// A script for every shell that the help names, and no other.
func TestCompletionUsage(t *testing.T) {
	expect(t, "no shell", bandwright(t, ".", "completion"), exitRefused, "SHELL")
	expect(t, "another shell", bandwright(t, ".", "completion", "csh"), exitRefused, "bash", "zsh", "fish")
	help := bandwright(t, ".", "completion", "--help").out
	for _, shell := range []string{"bash", "zsh", "fish"} {
		if !strings.Contains(help, fmt.Sprintf("bandwright completion %s", shell)) {
			t.Errorf("the help does not say how to use it in %s", shell)
		}
	}
	// What a shell says beside a word is the first clause of its help: a word alone says nothing.
	for _, said := range regexp.MustCompile(`-l (\S+) -d '([^' ]*)'`).FindAllStringSubmatch(bandwright(t, ".", "completion", "fish").out, -1) {
		t.Errorf("--%s is explained by %q", said[1], said[2])
	}
}

package main

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"bandwright/compiler/result"
)

// artefacts are what the small spec gives.
var artefacts = []string{"report.html", "report.txt", "wren.json", "wren_float32.c", "wren_float32.h", "wren_float32_selftest.c"}

func names(m map[string]string) []string {
	var out []string
	for name := range m {
		if name != "." {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

func TestCompileKept(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	r := bandwright(t, dir, "compile", "wren.yaml", "-o", "a/b/out")
	expect(t, "kept", r, exitKept, "wren, revision A1", "KEPT", "48 kHz", "float32", "low", "kept", "wrote 6 files to a/b/out")
	if r.err != "" {
		t.Errorf("stderr should be empty:\n%s", r.err)
	}
	got := tree(t, filepath.Join(dir, "a/b/out"))
	if !slices.Equal(names(got), artefacts) {
		t.Errorf("files: %v", names(got))
	}
	index, err := result.Read([]byte(got["wren.json"]))
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range got {
		if name == "." || name == "wren.json" {
			continue
		}
		sum := sha256.Sum256([]byte(text))
		if index.Files[name] != hex.EncodeToString(sum[:]) {
			t.Errorf("wren.json does not hold the SHA-256 of %s", name)
		}
	}
	if len(index.Files) != len(artefacts)-1 {
		t.Errorf("wren.json lists %v", index.Files)
	}
	sum := sha256.Sum256([]byte(small("wren", loose, "float32")))
	if index.SpecSHA256 != hex.EncodeToString(sum[:]) {
		t.Error("wren.json does not hold the SHA-256 of the spec")
	}
}

func TestCompileBroken(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", tight, "float32"))
	r := bandwright(t, dir, "compile", "wren.yaml", "-o", "out")
	expect(t, "broken", r, exitBroken, "BROKEN", "magnitude of low, 0.1 dB allowed: ", "digital 48 kHz float32", "to keep it: ")
	if got := tree(t, filepath.Join(dir, "out")); !slices.Equal(names(got), artefacts) {
		t.Errorf("a broken promise must not keep files back: %v", names(got))
	}
	for _, line := range strings.Split(r.out, "\n") {
		if utf8.RuneCountInString(line) > summaryWidth {
			t.Errorf("longer than %d characters: %s", summaryWidth, line)
		}
	}
	expect(t, "check", bandwright(t, dir, "check", "wren.yaml"), exitBroken, "BROKEN")
}

func TestCheckTakesTheGreatestCode(t *testing.T) {
	dir := place(t, "good.yaml", small("good", loose, "float32"), "tight.yaml", small("tight", tight, "float32"),
		"bad.yaml", "bandwright: 1\nname: Bad Name\n")
	expect(t, "good", bandwright(t, dir, "check", "good.yaml"), exitKept, "KEPT")
	expect(t, "good, tight, good", bandwright(t, dir, "check", "good.yaml", "tight.yaml", "good.yaml"), exitBroken, "KEPT", "BROKEN")
	before := tree(t, dir)
	r := bandwright(t, dir, "check", "tight.yaml", "bad.yaml", "missing.yaml", "good.yaml")
	expect(t, "with a bad one", r, exitRefused, "bad.yaml:2:", "missing.yaml", "KEPT", "BROKEN")
	if !strings.Contains(r.out, "good") {
		t.Errorf("the spec after the bad ones was not checked:\n%s", r.out)
	}
	same(t, "check", dir, before)
}

// Every slip in the command line is exit code 2 and one line that says what is
// right; nothing is written.
func TestUsage(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"), "folder/x", "")
	before := tree(t, dir)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{}, "compile"},
		{[]string{"compil", "wren.yaml"}, "compile"},
		{[]string{"compile"}, "--out"},
		{[]string{"compile", "-o", "out"}, "SPEC"},
		{[]string{"compile", "wren.yaml"}, "--out"},
		{[]string{"compile", "wren.yaml", "-o"}, "out"},
		{[]string{"compile", "wren.yaml", "-o", ""}, "folder"},
		{[]string{"compile", "wren.yaml", "--outt", "out"}, "--outt"},
		{[]string{"compile", "wren.yaml", "other.yaml", "-o", "out"}, "other.yaml"},
		{[]string{"compile", "wren.yaml", "-o", "out", "--only", "header"}, "cheader"},
		{[]string{"compile", "missing.yaml", "-o", "out"}, "missing.yaml"},
		{[]string{"compile", "folder", "-o", "out"}, "is a folder"},
		{[]string{"compile", "wren.yaml/x", "-o", "out"}, "wren.yaml/x"},
		{[]string{"check"}, "SPEC"},
		{[]string{"check", "missing.yaml"}, "missing.yaml"},
		{[]string{"explain", "--board", "wren.yaml"}, "add `board: {}`"},
		{[]string{"version", "now"}, "now"},
	} {
		r := bandwright(t, dir, c.args...)
		expect(t, strings.Join(c.args, " "), r, exitRefused, c.want)
		if r.out != "" || strings.Count(r.err, "\n") != 1 || !strings.HasPrefix(r.err, "bandwright: ") {
			t.Errorf("%v: stdout %q, stderr %q", c.args, r.out, r.err)
		}
	}
	same(t, "usage", dir, before)
}

func TestExplainBoard(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32")+"board: {}\n")
	before := tree(t, dir)
	expect(t, "board", bandwright(t, dir, "explain", "--board", "wren.yaml"), exitKept, "resistors: E96, 1 %, 1 kohm to 100 kohm", "sallen-key-", "correct polarity")
	expect(t, "a way that is not there", bandwright(t, dir, "explain", "--board", "wren.yaml", "loww"), exitRefused, "there is no way")
	same(t, "explain --board", dir, before)
}

func TestHelp(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"compile", "--help"}, {"check", "--help"}, {"diff", "--help"}, {"version", "--help"}} {
		r := bandwright(t, ".", args...)
		expect(t, strings.Join(args, " "), r, exitKept, "Examples:", "bandwright "+strings.TrimPrefix(args[0], "--help"))
		if r.err != "" {
			t.Errorf("%v: stderr %q", args, r.err)
		}
	}
	expect(t, "help", bandwright(t, ".", "--help"), exitKept, "compile", "check", "version", "Exit codes")
	for _, verb := range []string{"", "compile", "diff"} {
		want, got := bandwright(t, ".", strings.Fields(verb+" --help")...), bandwright(t, ".", strings.Fields("help "+verb)...)
		if want != got || want.code != exitKept {
			t.Errorf("help %s: %+v, want %+v", verb, got, want)
		}
	}
	expect(t, "help of no verb", bandwright(t, ".", "help", "compil"), exitRefused, "compil")
	expect(t, "help of compile", bandwright(t, ".", "compile", "--help"), exitKept, "cheader", "report", "json", "-o")
}

func TestVersion(t *testing.T) {
	r := bandwright(t, ".", "version")
	expect(t, "version", r, exitKept, "bandwright ", "spec language 1\n")
	if flag := bandwright(t, ".", "--version"); flag != r {
		t.Errorf("--version: %+v, the verb %+v", flag, r)
	}
}

// Diagnostics go to stderr, and a refused spec writes nothing.
func TestBadSpecs(t *testing.T) {
	for _, c := range []struct{ what, text, want string }{
		{"empty", "", "wren.yaml"},
		{"not YAML", "a: [1, 2\nb: }", "wren.yaml:"},
		{"not text", "\xff\xfe\x00name", "wren.yaml"},
		{"a misspelt key", strings.Replace(small("wren", loose, "float32"), "revision", "revison", 1), "did you mean `revision`"},
		{"no unit", strings.Replace(small("wren", loose, "float32"), "200 Hz", "200", 1), "wren.yaml:7:"},
		{"not a number", strings.Replace(small("wren", loose, "float32"), "200 Hz", "nan Hz", 1), "wren.yaml:7:"},
		{"a setting that the code needs the name of", "settings: {mute: [a, b]}\n" + strings.Replace(small("wren", loose, "float32"), "200 Hz", "200 Hz, when: {mute: b}", 1), "wren.yaml:1:12: error: the setting `mute` needs the C name `wren_mute`, which the code itself has"},
		{"too long", small("wren", loose, "float32") + strings.Repeat("# and on\n", 1<<18), "wren.yaml"},
	} {
		dir := place(t, "wren.yaml", c.text)
		before := tree(t, dir)
		r := bandwright(t, dir, "compile", "wren.yaml", "-o", "out")
		expect(t, c.what, r, exitRefused, c.want)
		if check := bandwright(t, dir, "check", "wren.yaml"); check.code != exitRefused || !strings.Contains(check.err, c.want) {
			t.Errorf("%s: check says %+v", c.what, check)
		}
		if r.out != "" {
			t.Errorf("%s: stdout %q", c.what, r.out)
		}
		same(t, c.what, dir, before)
	}
}

// A summary that cannot be printed is a failure, and then nothing is written.
func TestFullStdout(t *testing.T) {
	dir := place(t, "wren.yaml", small("wren", loose, "float32"))
	before := tree(t, dir)
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer full.Close()
	for _, args := range [][]string{{"compile", "wren.yaml", "-o", "out"}, {"check", "wren.yaml"}, {"check", "wren.yaml", "--format", "json"}, {"diff", "wren.yaml", "wren.yaml"}, {"version"}} {
		cmd := exec.Command(binary, args...)
		cmd.Dir, cmd.Stdout = dir, full
		expect(t, "full stdout", finish(t, cmd), exitFailed, "cannot be printed")
	}
	same(t, "full stdout", dir, before)
}

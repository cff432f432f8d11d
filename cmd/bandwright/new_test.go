package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler/result"
	"bandwright/compiler/words"
)

// Every starter compiles as it is written, with every promise kept and no
// warning, and has the ways that it was asked for, in biquads or op-amp stages.
func TestStartersCompile(t *testing.T) {
	for ways := 1; ways <= 4; ways++ {
		for _, board := range []bool{false, true} {
			args := []string{"new", "gull", "--ways", fmt.Sprint(ways)}
			if ways == 2 {
				args = args[:2] // the default
			}
			if board {
				args = append(args, "--board")
			}
			starts(t, ways, board, args)
			if ways == 2 {
				starts(t, ways, board, append(args, "--drivers"))
			}
		}
	}
	expect(t, "drivers of three ways", bandwright(t, place(t), "new", "gull", "--drivers", "--ways", "3"), exitRefused, "")
	entries, err := starters.ReadDir("starters")
	if err != nil || len(entries) != len(starter)+2 {
		t.Errorf("%d files of starters for %d numbers of ways, a folder of blocks and one of drivers: %v", len(entries), len(starter), err)
	}
}

// starts holds one starter to that.
func starts(t *testing.T, ways int, board bool, args []string) {
	t.Helper()
	dir := place(t)
	what := strings.Join(args, " ")
	r := bandwright(t, dir, args...)
	expect(t, what, r, exitKept, "wrote gull.yaml", "bandwright compile gull.yaml -o gull")
	if strings.Contains(r.out, "op-amp") != board {
		t.Errorf("%s says %q", what, r.out)
	}
	text := tree(t, dir)["gull.yaml"]
	if !strings.Contains(text, "name: gull ") || !strings.Contains(text, "invented") || strings.Count(text, "#") < 10 {
		t.Errorf("%s: without its name, its comments or the word that its data are invented:\n%s", what, text)
	}
	if strings.Contains(text, "\nboard:") != board || strings.Contains(text, "\ndigital:") == board || strings.Contains(text, "dBFS") && board {
		t.Errorf("%s writes\n%s", what, text)
	}
	// What new itself proposes must work.
	_, command, _ := strings.Cut(strings.TrimSpace(r.out), "\n    bandwright ")
	r = bandwright(t, dir, strings.Fields(command)...)
	expect(t, command, r, exitKept, "KEPT")
	if said := strings.Contains(r.out, "format") || strings.Contains(r.out, "rate"); said == board {
		t.Errorf("the summary of %s has columns of rates and formats: %v\n%s", what, said, r.out)
	}
	if r.err != "" {
		t.Errorf("%s: %s", what, r.err)
	}
	if strings.Contains(r.out, "DC at the outputs of the board: none, capacitors block it") != board {
		t.Errorf("the summary of %s on DC:\n%s", what, r.out)
	}
	index, err := result.Read([]byte(tree(t, dir)["gull/gull.json"]))
	switch {
	case err != nil:
		t.Errorf("%s: %v", what, err)
	case board && (len(index.Digital) != 0 || index.Board == nil || len(index.Board.Ways) != ways),
		!board && (index.Board != nil || len(index.Digital) == 0 || len(index.Digital[0].Ways) != ways):
		t.Errorf("%s has not %d ways", what, ways)
	}
}

// The summary tells the DC that reaches an amplifier through no capacitor: the
// figure of NAME.json.
func TestSummaryTellsDC(t *testing.T) {
	dir := place(t)
	expect(t, "new", bandwright(t, dir, "new", "gull", "--board"), exitKept)
	put(t, filepath.Join(dir, "gull.yaml"), strings.NewReplacer("coupling: 22 uF", "coupling: none",
		"offset: 2 mV, bias-current: 100 nA", "offset: 0.5 mV, bias-current: 20 nA").Replace(tree(t, dir)["gull.yaml"]))
	r := bandwright(t, dir, "compile", "gull.yaml", "-o", "gull")
	index, err := result.Read([]byte(tree(t, dir)["gull/gull.json"]))
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for _, f := range index.Figures {
		if f.OffsetV != nil {
			worst = max(worst, f.OffsetV.Value)
		}
	}
	expect(t, "DC", r, exitKept, "DC at the outputs of the board: at most "+words.Volt.Measured(worst)+", ")
	if worst < 1e-6 {
		t.Errorf("%g V without a capacitor", worst)
	}
}

// A file that is there already stays, whatever it is.
func TestNewNeverOverwrites(t *testing.T) {
	dir := place(t, "gull.yaml", "mine", "specs/x", "", "tern.yaml/x", "")
	if err := os.Symlink("nowhere", filepath.Join(dir, "link.yaml")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("gull.yaml", filepath.Join(dir, "other.yaml")); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	for _, name := range []string{"gull", "gull.yaml", "link", "other", "tern", "./gull"} {
		r := bandwright(t, dir, "new", name)
		expect(t, name, r, exitRefused, "exists already")
		if r.out != "" || strings.Count(r.err, "\n") != 1 {
			t.Errorf("%s: stdout %q, stderr %q", name, r.out, r.err)
		}
	}
	same(t, "never overwrites", dir, before)
	expect(t, "in a folder", bandwright(t, dir, "new", "specs/plover"), exitKept, "wrote specs/plover.yaml")
	if !strings.Contains(tree(t, dir)["specs/plover.yaml"], "name: plover ") {
		t.Error("specs/plover.yaml is not called plover")
	}
}

func TestNewUsage(t *testing.T) {
	dir := place(t, "file", "")
	before := tree(t, dir)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"new"}, "NAME"},
		{[]string{"new", "Gull"}, "is not a name; a name is a letter a–z, then letters a–z, digits or `_`: `gull`"},
		{[]string{"new", "grey-gull"}, "`grey_gull`"},
		{[]string{"new", "short"}, "is a reserved word of C or C++"},
		{[]string{"new", "null"}, "YAML reads `null` as empty"},
		{[]string{"new", "a: b # c"}, "is not a name"},
		{[]string{"new", "a\nb"}, "is not a name"},
		{[]string{"new", "\\"}, "is not a name"},
		{[]string{"new", ""}, "is not a name"},
		{[]string{"new", "2"}, "is not a name"},
		{[]string{"new", strings.Repeat("a", 41)}, "more than 40 characters"},
		{[]string{"new", "specs/gull"}, "there is no folder specs"},
		{[]string{"new", "file/gull"}, "there is no folder file"},
		{[]string{"new", "gull", "--ways", "5"}, "--ways"},
		{[]string{"new", "gull", "--ways", "two"}, "--ways"},
		{[]string{"new", "gull", "tern"}, "tern"},
	} {
		r := bandwright(t, dir, c.args...)
		expect(t, fmt.Sprintf("%q", c.args), r, exitRefused, c.want)
		if r.out != "" || strings.Count(r.err, "\n") != 1 {
			t.Errorf("%q: stdout %q, stderr %q", c.args, r.out, r.err)
		}
	}
	same(t, "usage", dir, before)
}

// Where it cannot be told that a file was written, none is.
func TestNewFails(t *testing.T) {
	dir := place(t)
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer full.Close()
	for _, args := range [][]string{{"new", "gull"}, {"schema"}, {"completion", "bash"}} {
		cmd := exec.Command(binary, args...)
		cmd.Dir, cmd.Stdout = dir, full
		expect(t, strings.Join(args, " "), finish(t, cmd), exitFailed, "cannot be printed")
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o755)
	cmd := exec.Command(binary, "new", "gull")
	cmd.Dir = dir
	unprivileged(t, cmd)
	expect(t, "read-only folder", finish(t, cmd), exitFailed, "permission denied")
	same(t, "failed", dir, map[string]string{".": tree(t, dir)["."]})
}

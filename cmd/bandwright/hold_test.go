package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// wren is a two-way board; more goes into its board block.
func wren(more string) string {
	return `bandwright: 1
name: wren
ways:
  low:
    filters:
      - peak: {at: 90 Hz, q: 1.5, gain: -3 dB}
  high:
    gain: -2 dB
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 1.5 kHz}
board:
  ` + more + `
  input: {level: 1 V}
`
}

const heldWren = "held: boards/wren.yaml"

// heldText is the file that holds the board of wren.
func heldText(t *testing.T, dir string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "boards/wren.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// A board is written once, then it stands: compile and check use it, and hold touches
// nothing until something changed.
func TestHold(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	for _, args := range [][]string{{"check", "wren.yaml"}, {"compile", "wren.yaml", "-o", "out"}} {
		expect(t, args[0]+" before", bandwright(t, dir, args...), exitRefused, "wren.yaml:12:9", "there is no file `boards/wren.yaml`", "`bandwright hold wren.yaml` writes it")
	}
	r := bandwright(t, dir, "hold", "wren.yaml")
	expect(t, "first", r, exitKept, "the board of wren: ", " stages, ", " different values instead of ", ": within 0.8 of ", "built", "`few-values: off`", "--anew", "wrote boards/wren.yaml")
	first := tree(t, dir)
	before, err := os.Stat(filepath.Join(dir, "boards/wren.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	expect(t, "again", bandwright(t, dir, "hold", "wren.yaml"), exitKept, "the board stands as held: no part changed", "it was not touched")
	expect(t, "all anew", bandwright(t, dir, "hold", "wren.yaml", "--anew"), exitKept, "the whole board was chosen anew: 0 of ", "it was not touched")
	same(t, "hold again", dir, first)
	after, err := os.Stat(filepath.Join(dir, "boards/wren.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if !os.SameFile(before, after) || after.ModTime() != before.ModTime() {
		t.Error("a file that says so already was written again")
	}
	// Beside a way that stands the others may do better with other values than all had
	// when they were chosen together.
	expect(t, "a way anew", bandwright(t, dir, "hold", "wren.yaml", "--anew", "low", "common"), exitKept, "low and common chosen anew: ", "no part changed")
	expect(t, "all anew again", bandwright(t, dir, "hold", "wren.yaml", "--anew"), exitKept, "the whole board was chosen anew: ")
	same(t, "all anew again", dir, first)
	expect(t, "check", bandwright(t, dir, "check", "wren.yaml"), exitKept, "no part changed")
	expect(t, "compile", bandwright(t, dir, "compile", "wren.yaml", "-o", "out"), exitKept, "wrote ")
}

// A changed line changes the parts of its own stage; references and all else stand.
func TestHoldRenews(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	expect(t, "first", bandwright(t, dir, "hold", "wren.yaml"), exitKept)
	before := heldText(t, dir)
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(wren(heldWren), "gain: -3 dB", "gain: -6 dB", 1))
	r := bandwright(t, dir, "hold", "wren.yaml")
	expect(t, "renewed", r, exitKept, "low stage ", "(peak): R2", "would be ", "wrote boards/wren.yaml")
	old, now := partsOf(t, before), partsOf(t, heldText(t, dir))
	stages := map[string]bool{}
	for ref, value := range old {
		if now[ref] != value {
			stages[ref[1:4]] = true
		}
	}
	if len(now) != len(old) || len(stages) != 1 {
		t.Errorf("%d parts became %d, and those of the stages %v changed:\n%s", len(old), len(now), stages, heldText(t, dir))
	}
	expect(t, "renewed again", bandwright(t, dir, "hold", "wren.yaml"), exitKept, "no part changed", "it was not touched")

	// A way that is called otherwise is no other circuit, and what the spec says of an output is told.
	held := heldText(t, dir)
	renamed := strings.ReplaceAll(strings.Replace(wren(heldWren), "gain: -3 dB", "gain: -6 dB", 1), "low", "woof")
	put(t, filepath.Join(dir, "wren.yaml"), strings.ReplaceAll(renamed, "woof-", "low-"))
	expect(t, "renamed", bandwright(t, dir, "hold", "wren.yaml"), exitKept, "the board stands as held: no part changed",
		"woof is the way that is held as low, under a new name: its references stay", "wrote boards/wren.yaml")
	if now := heldText(t, dir); now != strings.Replace(held, "  low:\n", "  woof:\n", 1) {
		t.Errorf("with a way renamed the board became\n%s", now)
	}
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(renamed, "  input:", "  output: {build-out: 102 ohm}\n  input:", 1))
	expect(t, "another build-out", bandwright(t, dir, "hold", "wren.yaml"), exitKept, "the stages of the held board stand: none of their ", " parts changed",
		"* woof, build-out: R20001 100 -> 102 ohm, as the spec asks", "* high, build-out: R30001 100 -> 102 ohm, as the spec asks", "wrote boards/wren.yaml")

	// A way that is no other under a new name is new, and told with all of its parts.
	alone, _, _ := strings.Cut(renamed, "crossovers:")
	alone = strings.Replace(alone, "  high:\n    gain: -2 dB\n", "", 1)
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(alone, "woof", "all", 1)+"board:\n  "+heldWren+"\n  input: {level: 1 V}\n")
	expect(t, "another way", bandwright(t, dir, "check", "wren.yaml"), exitKept, "the board is not as it is held: ", "all stage 1 (peak) is new: ", "woof stage 1 (low-pass) is gone: ")
}

// partsOf are the parts of a held board.
func partsOf(t *testing.T, text string) map[string]float64 {
	t.Helper()
	h, faults := language.ParseHeld("wren.yaml", []byte(text), compiler.Language())
	if h == nil {
		t.Fatal(faults)
	}
	return h.Parts(nil)
}

// A value changed by hand is judged and told, and it stays.
func TestHoldByHand(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	expect(t, "first", bandwright(t, dir, "hold", "wren.yaml"), exitKept)
	file := filepath.Join(dir, "boards/wren.yaml")
	text := heldText(t, dir)
	i := strings.Index(text, "R20101: ")
	j := i + strings.IndexAny(text[i:], ",}")
	put(t, file, text[:i]+"R20101: 12.34 kohm"+text[j:])
	edited := tree(t, dir)
	r := bandwright(t, dir, "check", "wren.yaml")
	if !strings.Contains(r.out, "changed by hand: R20101 ") || !strings.Contains(r.out, "-> 12.34 kohm: low ") {
		t.Errorf("the part is not told:\n%s", r.out)
	}
	same(t, "check", dir, edited)
	r = bandwright(t, dir, "hold", "wren.yaml")
	expect(t, "held", r, exitBroken, "changed by hand: R20101 ", "-> 12.34 kohm: low ", "R20101 12.34 kohm: not in the stock, taken as held", "BROKEN: board-magnitude of low", "wrote boards/wren.yaml")
	if now := heldText(t, dir); !strings.Contains(now, "R20101: 12.34 kohm") || !strings.Contains(now, "{value: 12.34 kohm, of: [R20101]}") {
		t.Errorf("it did not stay:\n%s", now)
	}
	r = bandwright(t, dir, "hold", "wren.yaml")
	expect(t, "held again", r, exitBroken, "it was not touched")
	if strings.Contains(r.out, "by hand") {
		t.Errorf("it is what is held now:\n%s", r.out)
	}
	expect(t, "anew", bandwright(t, dir, "hold", "wren.yaml", "--anew", "low"), exitKept, "low chosen anew: ", "wrote boards/wren.yaml")
	if now := heldText(t, dir); strings.Contains(now, "12.34") {
		t.Errorf("chosen anew it still has the value:\n%s", now)
	}
	expect(t, "all anew", bandwright(t, dir, "hold", "wren.yaml", "--anew"), exitKept, "the whole board was chosen anew: ")
	if now := heldText(t, dir); now != text {
		t.Errorf("chosen anew it is another board:\n%s", now)
	}
}

// A held board with a fault is refused at its place, and nothing is written; chosen anew
// as a whole, the file is replaced.
func TestHoldBadFile(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	expect(t, "first", bandwright(t, dir, "hold", "wren.yaml"), exitKept)
	good := heldText(t, dir)
	for _, c := range []struct{ what, old, new, want string }{
		{"a key", "topology:", "topolgy:", "did you mean `topology`?"},
		{"another spec's", "name: wren", "name: gull", "`gull` is not the name of the spec"},
		{"a part too few", "R20101: ", "R20109: ", "R20109"},
		{"not YAML", "ways:", "ways: [", "boards/wren.yaml:"},
	} {
		put(t, filepath.Join(dir, "boards/wren.yaml"), strings.Replace(good, c.old, c.new, 1))
		before := tree(t, dir)
		for _, args := range [][]string{{"check", "wren.yaml"}, {"hold", "wren.yaml"}, {"hold", "wren.yaml", "--anew", "low"}} {
			r := bandwright(t, dir, args...)
			expect(t, c.what, r, exitRefused, c.want, "boards/wren.yaml:")
			if r.out != "" {
				t.Errorf("%s: stdout %q", c.what, r.out)
			}
		}
		same(t, c.what, dir, before)
		expect(t, c.what+", anew", bandwright(t, dir, "hold", "wren.yaml", "--anew"), exitKept, "wrote boards/wren.yaml")
		if heldText(t, dir) != good {
			t.Errorf("%s: chosen anew it is another board", c.what)
		}
	}
}

// What happens without a value is told, of a board that is held and of one that is not
// yet; nothing is written.
func TestHoldWithout(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	fresh := tree(t, dir)
	r := bandwright(t, dir, "hold", "wren.yaml", "--without", "1.234 kohm")
	expect(t, "no part", r, exitKept, "no part of the board is 1.234 kohm: nothing changes")
	expect(t, "no value", bandwright(t, dir, "hold", "wren.yaml", "--without", "frob"), exitRefused, "--without: `frob` is not the value of a part; it takes a resistance")
	same(t, "no part", dir, fresh)
	expect(t, "first", bandwright(t, dir, "hold", "wren.yaml"), exitKept)
	text := heldText(t, dir)
	i := strings.Index(text, "C20101: ") + len("C20101: ")
	value := text[i : i+strings.IndexAny(text[i:], ",}")]
	before := tree(t, dir)
	for _, c := range []struct {
		what string
		args []string
		want []string
	}{
		{"one value", []string{"--without", value}, []string{"without " + value + " these have to change:", "* low stage 1: C20101", "the fewest changes: ", "C20101 ", "error now", "noise now", "different values in stages: ", "nothing was written"}},
		{"two values", []string{"--without", strings.ReplaceAll(value, " ", ""), "--without", "100 ohm"}, []string{"without " + value + " and 100 ohm", "low, build-out: R20001", "around the stages nothing is chosen here: coupling, build-out"}},
		{"one value twice", []string{"--without", value, "--without", strings.ReplaceAll(value, " ", "")}, []string{"without " + value + " these have to change:"}},
		{"two values in one", []string{"--without", value + ", 100 ohm"}, []string{"without " + value + " and 100 ohm", "low, build-out: R20001"}},
	} {
		r := bandwright(t, dir, append([]string{"hold", "wren.yaml"}, c.args...)...)
		expect(t, c.what, r, exitKept, c.want...)
	}
	same(t, "without", dir, before)
	if err := os.RemoveAll(filepath.Join(dir, "boards")); err != nil {
		t.Fatal(err)
	}
	held := bandwright(t, dir, "hold", "wren.yaml", "--without", value)
	same(t, "without a file", dir, fresh)
	expect(t, "without a file", held, exitKept, "the fewest changes: ")
}

// Every slip is one exit code 2 and says what is right; nothing is written.
func TestHoldUsage(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren), "plain.yaml", wren("supply: 15 V"), "digital.yaml", small("digital", loose, "float32"),
		"bad.yaml", strings.Replace(wren(heldWren), "order: 4", "odrer: 4", 1), "impossible.yaml", strings.Replace(wren(heldWren), "q: 1.5", "q: 900", 1))
	before := tree(t, dir)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"plain.yaml"}, "plain.yaml:12:3: error: the spec does not say which file holds its board"},
		{[]string{"plain.yaml"}, "add `held: boards/wren.yaml` to `board`"},
		{[]string{"digital.yaml"}, "digital.yaml has no board to hold: add `board: {held: boards/digital.yaml}`"},
		{[]string{"bad.yaml"}, "did you mean `order`?"},
		{[]string{"bad.yaml", "--anew"}, "did you mean `order`?"},
		{[]string{"impossible.yaml"}, "`bandwright check impossible.yaml` says why"},
		{[]string{"missing.yaml"}, "there is no file missing.yaml"},
		{[]string{"wren.yaml", "low"}, "`low`: a way is named only behind --anew"},
		{[]string{"wren.yaml", "--anew", "lwo"}, "wren.yaml has no way `lwo`; did you mean `low`?"},
		{[]string{"wren.yaml", "--anew", "tweeter"}, "there are common, low and high"},
		{[]string{"wren.yaml", "--anew", "--without", "1 nF"}, "leave --anew out"},
		{[]string{"wren.yaml", "--without", "1"}, "`1` has no unit"},
		{[]string{"wren.yaml", "--without", "1 Hz"}, "`1 Hz` is a frequency"},
		{[]string{"wren.yaml", "--without"}, "--without"},
		{[]string{}, "SPEC"},
	} {
		r := bandwright(t, dir, append([]string{"hold"}, c.args...)...)
		expect(t, strings.Join(c.args, " "), r, exitRefused, c.want)
		if r.out != "" {
			t.Errorf("%v: stdout %q", c.args, r.out)
		}
	}
	same(t, "usage", dir, before)
	expect(t, "help", bandwright(t, dir, "hold", "--help"), exitKept, "Examples:", "bandwright hold specs/heron.yaml", "--anew", "--without")
}

// What cannot be printed or written leaves everything as it was.
func TestHoldFails(t *testing.T) {
	dir := place(t, "wren.yaml", wren(heldWren))
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer full.Close()
	unprinted := func(what string, args ...string) {
		before := tree(t, dir)
		cmd := exec.Command(binary, append([]string{"hold", "wren.yaml"}, args...)...)
		cmd.Dir, cmd.Stdout = dir, full
		expect(t, what, finish(t, cmd), exitFailed, "cannot be printed")
		same(t, what, dir, before)
	}
	unprinted("no file yet")
	expect(t, "first", bandwright(t, dir, "hold", "wren.yaml"), exitKept)
	unprinted("nothing to write")
	put(t, filepath.Join(dir, "wren.yaml"), strings.Replace(wren(heldWren), "gain: -3 dB", "gain: -6 dB", 1))
	unprinted("a change")
	unprinted("without", "--without", "100 ohm")
	file := filepath.Join(dir, "boards/wren.yaml")
	if err := os.Rename(file, filepath.Join(dir, "elsewhere")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../elsewhere", file); err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)
	expect(t, "a link", bandwright(t, dir, "hold", "wren.yaml"), exitFailed, "is not a regular file: it was not changed")
	same(t, "a link", dir, before)
}

package compiler_test

import (
	"context"
	"fmt"
	"maps"
	"math"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/language"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// heldBlock is where a board block begins that is held, and laid out with the most exact values: quicker, and what
// tests know of stages hangs on them.
const heldBlock = "\nboard:\n  held: held.yaml\n  few-values: off"

// shippedHeld is a shipped spec of a board alone, with a held board of its own.
func shippedHeld(t testing.TB, name string) string {
	t.Helper()
	src, err := os.ReadFile("../specs/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(src)
	text = regexp.MustCompile(`\n  held: .*`).ReplaceAllString(text, "")
	text = regexp.MustCompile(`(?m)^(drivers:.*|promise:)\n(  .*\n)*|^    (driver|amplifier): .*\n`).ReplaceAllString(text, "") // of files that are not beside it
	text = regexp.MustCompile(`\ndigital:\n(  .*\n)*`).ReplaceAllString(text, "\n")                                             // no matter of boards
	return regexp.MustCompile(`\nboard:.*`).ReplaceAllString(text, heldBlock)
}

// unheld are the boards that nothing is held of yet, by their specs: each is made once.
var unheld = map[string]*compiler.Build{}

// compiledHeld compiles a spec with the board that is held of it. The Build is not to be changed.
func compiledHeld(t testing.TB, src string, held []byte, h compiler.Holding) *compiler.Build {
	t.Helper()
	if held == nil && reflect.ValueOf(h).IsZero() {
		if unheld[src] == nil {
			unheld[src] = compileHeld(t, src, nil, h)
		}
		return unheld[src]
	}
	return compileHeld(t, src, held, h)
}

func compileHeld(t testing.TB, src string, held []byte, h compiler.Holding) *compiler.Build {
	t.Helper()
	folder := fstest.MapFS{}
	if held != nil {
		folder["held.yaml"] = &fstest.MapFile{Data: held}
	}
	h.Absent = held == nil
	b, faults, err := compiler.VerdictHolding(context.Background(), "test.yaml", []byte(src), folder, h)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(err, faults)
	}
	return b
}

// To hold a board, compile from it and hold that again changes no byte, and no part.
func TestHoldingChangesNothing(t *testing.T) {
	for _, name := range []string{"dabchick", "heron", "bittern"} {
		src := shippedHeld(t, name)
		first := compiledHeld(t, src, nil, compiler.Holding{})
		held := language.FormatHeld(first.Hold())
		second := compiledHeld(t, src, held, compiler.Holding{})
		again := language.FormatHeld(second.Hold())
		if string(again) != string(held) {
			t.Errorf("%s: another file: %s", name, compilertest.FirstDifference(string(again), string(held)))
		}
		if k := second.Board.Kept; k.Count() > 0 || len(k.Changes)+len(k.Notes)+len(k.ByHand) > 0 {
			t.Errorf("%s: %s %q", name, k.Head(), k.Lines())
		}
	}
}

// references are the values of all resistors and capacitors of a way's stages.
func references(b *compiler.Build, way string) map[string]float64 {
	out := map[string]float64{}
	for _, c := range b.Board.Chains() {
		if b.Board.NameOf(c) != way {
			continue
		}
		for _, s := range c.Stages() {
			for _, p := range s.Placed() {
				out[p.Ref] = p.Value
			}
		}
	}
	return out
}

// A way that is put below the others takes the next free block, and the references of
// those that were there stay; to choose one way anew touches no part of another.
func TestReferencesAreIdentities(t *testing.T) {
	src := shippedHeld(t, "dabchick")
	first := compiledHeld(t, src, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	three := strings.NewReplacer("\nways:\n", "\nways:\n  sub: {gain: -2 dB}\n",
		"\ncrossovers:\n", "\ncrossovers:\n  - {between: [sub, bass], family: LR, order: 4, at: 90 Hz}\n").Replace(src)
	b := compiledHeld(t, three, held, compiler.Holding{})
	if !maps.Equal(references(b, "treble"), references(first, "treble")) {
		t.Errorf("treble: %v, not %v", references(b, "treble"), references(first, "treble"))
	}
	was, is := references(first, "bass"), references(b, "bass")
	for ref := range was {
		if _, there := is[ref]; !there {
			t.Errorf("%s of bass is gone", ref)
		}
	}
	for ref := range references(b, "sub") {
		if !strings.HasPrefix(ref[1:], "4") {
			t.Errorf("%s of the way that is new is not in block 4", ref)
		}
	}
	anew := compiledHeld(t, strings.Replace(src, "at: 92 Hz", "at: 80 Hz", 1), held, compiler.Holding{Anew: []string{"bass"}})
	for _, way := range []string{"common", "treble"} {
		if !maps.Equal(references(anew, way), references(first, way)) {
			t.Errorf("bass was to be chosen anew, and %s changed", way)
		}
	}
	if maps.Equal(references(anew, "bass"), was) || !verify.Kept(anew.Findings) {
		t.Errorf("bass is the same, or breaks a promise: %v", verify.VerdictOn(anew.Findings))
	}
}

// A value that is gone is gone from every stage: also from one that no change of a few
// parts can do without, as 220 nF is the largest capacitor that heron has.
func TestWhatIsGoneIsGone(t *testing.T) {
	src := shippedHeld(t, "heron")
	gone := board.Value{Kind: netlist.Capacitor, Value: 220e-9}
	held := language.FormatHeld(compiledHeld(t, src, nil, compiler.Holding{}).Hold())
	if !strings.Contains(string(held), " 220 nF") {
		t.Fatal("heron has no 220 nF")
	}
	b := compiledHeld(t, src, held, compiler.Holding{Without: []board.Value{gone}})
	for _, x := range b.Board.Bins() {
		if x.Kind == gone.Kind && x.Value == gone.Value {
			t.Errorf("%v still are of 220 nF", x.Refs)
		}
	}
	if !verify.Kept(b.Findings) || b.Board.Kept.Parts < 85 {
		t.Errorf("%s: %v", b.Board.Kept.Head(), verify.VerdictOn(b.Findings))
	}
}

// A held file that no board can be is refused with a place in it.
func TestBadHeldBoards(t *testing.T) {
	src := shippedHeld(t, "dabchick")
	held := string(language.FormatHeld(compiledHeld(t, src, nil, compiler.Holding{}).Hold()))
	for _, c := range []struct{ old, new, contains string }{
		{`R20102: [^,]*, `, "", "stage 1 (high-cut) lacks R20102"},
		{`(C20101: [^}]*)}`, "$1, R20104: 1 kohm}", "has no R20104"},
		{`op-amps: \[U201A\]`, "op-amps: [U201A, U209A]", "names 2 op-amps"},
		{"name: dabchick", "name: heron", "is not the name of the spec"},
	} {
		text := regexp.MustCompile(c.old).ReplaceAllString(held, c.new)
		if text == held {
			t.Fatalf("the held board has no %s", c.old)
		}
		b, faults, err := compiler.Compile(context.Background(), "specs/test.yaml", []byte(src), fstest.MapFS{"held.yaml": &fstest.MapFile{Data: []byte(text)}})
		if b != nil || err != nil || len(faults) != 1 || !strings.Contains(faults[0].Error(), c.contains) || !strings.HasPrefix(faults[0].Error(), "specs/held.yaml:") {
			t.Errorf("%q: %v %v", c.new, faults, err)
		}
	}
}

// A board that keeps its response and breaks what is promised of noise has the values of
// the changed stage chosen by more than how few of them change, where that mends it.
func TestFewPartsAreNotBoughtWithNoise(t *testing.T) {
	// A stage whose noise hangs on its values.
	src := strings.Replace(shippedHeld(t, "dabchick"), "to: {at: 48 Hz, q: 0.7}}", "to: {at: 48 Hz, q: 0.7}, topology: bridged-t}", 1)
	held := language.FormatHeld(compiledHeld(t, src, nil, compiler.Holding{}).Hold())
	noise := func(edit, limit string) (float64, *compiler.Build) {
		b := compiledHeld(t, strings.Replace(edit, "\nboard:", "\npromise: {board-noise: "+limit+"}\nboard:", 1), held, compiler.Holding{})
		worst := math.Inf(-1)
		for _, f := range b.Findings {
			if f.Promise == "board-noise" {
				worst = max(worst, f.Worst)
			}
		}
		return worst, b
	}
	edit := strings.Replace(src, "to: {at: 48 Hz, q: 0.7}", "to: {at: 40 Hz, q: 0.6}", 1)
	few, before := noise(edit, "-20 dBu")
	after, b := noise(edit, fmt.Sprintf("%.2f dBu", few-0.05))
	if !verify.Kept(b.Findings) || after > few-0.05 || b.Board.Kept.Count() <= before.Board.Kept.Count() {
		t.Errorf("%.2f dBu with %d parts changed, then %.2f with %d: %v", few, before.Board.Kept.Count(), after, b.Board.Kept.Count(), verify.VerdictOn(b.Findings))
	}
}

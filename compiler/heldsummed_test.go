package compiler_test

import (
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

const heldSummed = `bandwright: 1
name: rail
settings: {place: [free, wall, corner]}
ways:
  only:
    filters:
      - low-shelf: {at: 210 Hz, q: 0.7, gain: -3 dB, when: {place: wall}}
      - low-shelf: {at: 240 Hz, q: 0.7, gain: -6 dB, when: {place: corner}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// A held sum stands as it is, whatever the order of the choices; where one of its filters is asked
// for something else only that one's parts change; a filter of another kind is built anew.
func TestAHeldSumMovesByFilter(t *testing.T) {
	first := compiledHeld(t, heldSummed, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	if !strings.Contains(string(held), "topology: switched-sum") {
		t.Fatal(string(held))
	}
	before := references(first, "only")
	for _, k := range []struct {
		what, old, new string
		may            string // parts that may change, "" for none
		sum            bool
	}{
		{"as it is", "", "", "", true},
		{"another order of the choices", "[free, wall, corner]", "[corner, free, wall]", "", true},
		{"the first filter", "gain: -3 dB", "gain: -3.5 dB", "R20101 R20102 R20103 R20104 C20101 C20102", true},
		{"the second filter", "at: 240 Hz", "at: 255 Hz", "R20105 R20106 R20107 R20108 C20103 C20104", true},
		{"a filter of another kind", "low-shelf: {at: 240 Hz, q: 0.7, gain: -6 dB", "low-shelf: {at: 240 Hz, q: 0.7, gain: 6 dB", "any", true},
	} {
		b := compiledHeld(t, strings.Replace(heldSummed, k.old, k.new, 1), held, compiler.Holding{})
		for _, f := range b.Findings {
			if f.Broken > 0 {
				t.Errorf("%s: %v", k.what, f)
			}
		}
		changed := 0
		for ref, v := range references(b, "only") {
			if before[ref] != v && k.may != "any" {
				changed++
				if !strings.Contains(k.may, ref) {
					t.Errorf("%s: %s went from %g to %g", k.what, ref, before[ref], v)
				}
			}
		}
		if k.may == "" && changed > 0 || k.may != "" && k.may != "any" && changed == 0 {
			t.Errorf("%s: %d parts changed", k.what, changed)
		}
		if got := strings.Contains(string(language.FormatHeld(b.Hold())), "topology: switched-sum"); got != k.sum {
			t.Errorf("%s: a sum %v", k.what, got)
		}
	}
}

// What makes no sum in a held file is a fault.
func TestHeldSumsAreChecked(t *testing.T) {
	held := string(language.FormatHeld(compiledHeld(t, heldSummed, nil, compiler.Holding{}).Hold()))
	checkedHeld(t, map[string]string{
		"lacks R20101":               strings.Replace(held, "R20101: ", "R20119: ", 1),
		"names 2 op-amps, and has 3": strings.Replace(held, "op-amps: [U201A, ", "op-amps: [", 1),
	})
}

// checkedHeld holds edited held boards to one fault each, which says what is the key.
func checkedHeld(t *testing.T, edits map[string]string) {
	t.Helper()
	for what, edited := range edits {
		h, faults := language.ParseHeld("held.yaml", []byte(edited), compiler.Language())
		if h == nil {
			t.Fatal(what, faults)
		}
		faults = board.CheckHeld(h)
		if len(faults) == 0 || !strings.Contains(faults[0].Message, what) {
			t.Errorf("%q: %v\n%s", what, faults, edited)
		}
	}
}

// stageEdit is an edit of a spec with a held board of one way, "only": how many parts may change
// for it, none where that is 0 and some otherwise, and whether the stage keeps its topology.
type stageEdit struct {
	what, old, new string
	most           int
	stays          bool
}

// staysHeld holds a stage of a topology to what edits of its spec may do, each from the same held
// board; the first is no edit, and that board is the one which is held again. It returns the file.
func staysHeld(t *testing.T, spec, topology string, edits []stageEdit) string {
	t.Helper()
	first := compiledHeld(t, spec, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	is := func(b *compiler.Build) bool {
		return strings.Contains(string(language.FormatHeld(b.Hold())), "topology: "+topology)
	}
	if !is(first) {
		t.Fatal(string(held))
	}
	before := references(first, "only")
	for i, k := range edits {
		b := compiledHeld(t, strings.ReplaceAll(spec, k.old, k.new), held, compiler.Holding{})
		for _, f := range b.Findings {
			if f.Broken > 0 {
				t.Errorf("%s: %v", k.what, f)
			}
		}
		changed := 0
		for ref, v := range references(b, "only") {
			if before[ref] != v {
				changed++
			}
		}
		if changed > k.most || is(b) != k.stays || k.most > 0 && changed == 0 {
			t.Errorf("%s: %d parts changed, a %s: %v", k.what, changed, topology, is(b))
		}
		if again := language.FormatHeld(b.Hold()); i == 0 && string(again) != string(held) {
			t.Errorf("held again it is\n%s", again)
		}
	}
	return string(held)
}

const heldPaired = `bandwright: 1
name: rail
settings: {presence: [up, flat, down]}
ways:
  only:
    filters:
      - low-shelf: {at: 210 Hz, q: 0.7, gain: 3 dB, when: {presence: up}}
      - low-shelf: {at: 210 Hz, q: 0.7, gain: -3 dB, when: {presence: down}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// A held pair stands as it is, whatever the order of the choices, and where one line moves within the
// promise; where both move the fewest parts do; where the two are no reciprocals any more another stage
// takes its place.
func TestAHeldPairStays(t *testing.T) {
	held := staysHeld(t, heldPaired, "switched-pair", []stageEdit{
		{"as it is", "", "", 0, true},
		{"another order of the choices", "[up, flat, down]", "[down, up, flat]", 0, true},
		{"a line within the promise", "gain: -3 dB", "gain: -3.01 dB", 0, true},
		{"both lines", "at: 210 Hz", "at: 220 Hz", 3, true},
		{"no reciprocals", "gain: -3 dB", "gain: -5 dB", 99, false},
	})
	checkedHeld(t, map[string]string{
		"lacks R20101":              strings.Replace(held, "R20101: ", "R20119: ", 1),
		"names 1 op-amp, and has 2": strings.Replace(held, "op-amps: [U201A, U201B]", "op-amps: [U201A]", 1),
		"states that no such stage": strings.Replace(held, "0.707945784384138]", "1.5]", 1),
	})
}

package compiler_test

import (
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

const heldStrengths = `bandwright: 1
name: rail
settings: {tone: [flat, up, more, down]}
ways:
  only:
    filters:
      - high-shelf: {at: 4 kHz, q: 0.7, gain: 2 dB, when: {tone: up}}
      - high-shelf: {at: 4 kHz, q: 0.7, gain: 4 dB, when: {tone: more}}
      - high-shelf: {at: 4 kHz, q: 0.7, gain: -2 dB, when: {tone: down}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// A held tapped-filter stands as it is, whatever the order of the choices, and where one strength moves few
// parts do; where one strength passes another, or another kind of filter is asked for, it is built anew.
func TestAHeldTappedFilterStays(t *testing.T) {
	first := compiledHeld(t, heldStrengths, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	is := func(b *compiler.Build) bool {
		return strings.Contains(string(language.FormatHeld(b.Hold())), "topology: tapped-filter")
	}
	if !is(first) {
		t.Fatal(string(held))
	}
	before := references(first, "only")
	for _, k := range []struct {
		what, old, new string
		most           int // parts that may change
		tapped         bool
	}{
		{"as it is", "", "", 0, true},
		{"another order of the choices", "[flat, up, more, down]", "[down, more, flat, up]", 0, true},
		{"a line within the promise", "gain: 4 dB", "gain: 4.01 dB", 0, true},
		{"one strength", "gain: 4 dB", "gain: 4.5 dB", 9, true},
		{"every line", "at: 4 kHz", "at: 4.3 kHz", 12, true},
		{"a strength that passes another", "gain: 4 dB", "gain: -4 dB", 99, true},
		{"another kind", "- high-shelf: {at: 4 kHz, q: 0.7, gain: 4 dB", "- peak: {at: 4 kHz, q: 0.7, gain: 4 dB", 99, false},
	} {
		b := compiledHeld(t, strings.ReplaceAll(heldStrengths, k.old, k.new), held, compiler.Holding{})
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
		if changed > k.most || is(b) != k.tapped || k.most > 0 && changed == 0 {
			t.Errorf("%s: %d parts changed, tapped %v", k.what, changed, is(b))
		}
		if again := language.FormatHeld(b.Hold()); k.what == "as it is" && string(again) != string(held) {
			t.Errorf("held again it is\n%s", again)
		}
	}
	for what, edited := range map[string]string{
		"lacks R20101":              strings.Replace(string(held), "R20101: ", "R20139: ", 1),
		"names 1 op-amp, and has 2": strings.Replace(string(held), "op-amps: [U201A, U201B]", "op-amps: [U201A]", 1),
	} {
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

package compiler_test

import (
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

const heldTapped = `bandwright: 1
name: rail
settings: {trim: [0 dB, -2 dB, -4 dB]}
ways:
  only:
    filters:
      - gain: {by: -2 dB, when: {trim: -2 dB}}
      - gain: {by: -4 dB, when: {trim: -4 dB}}
promise: {headroom: off, board-spread: off}
board: {held: held.yaml}
`

// A value of a string of resistors that was changed by hand stands, and is told; one that is
// missing, or one too many, is a fault.
func TestATrimEditedByHandIsJudged(t *testing.T) {
	held := string(language.FormatHeld(compiledHeld(t, heldTapped, nil, compiler.Holding{}).Hold()))
	line := regexp.MustCompile(`parts: \{R20101: [^,]*, `).FindString(held)
	if line == "" || !strings.Contains(held, "topology: tapped-gain") {
		t.Fatal(held)
	}
	b := compiledHeld(t, heldTapped, []byte(strings.Replace(held, line, "parts: {R20101: 1.3 kohm, ", 1)), compiler.Holding{})
	k := b.Board.Kept
	if v := references(b, "only")["R20101"]; v != 1300 {
		t.Errorf("R20101 is %g ohm", v)
	}
	if len(k.ByHand) == 0 || !strings.Contains(strings.Join(k.ByHand, " "), "R20101") {
		t.Errorf("by hand: %q, changes: %+v", k.ByHand, k.Changes)
	}
	for what, edited := range map[string]string{
		"lacks R20101":     strings.Replace(held, line, "parts: {R20109: 1 kohm, ", 1),
		"lacks R20105":     strings.Replace(held, line, line+"R20109: 1 kohm, ", 1),
		"make no string":   strings.Replace(held, line, "parts: {", 1),
		"names 2 op-amps,": strings.Replace(held, "op-amps: [U201A", "op-amps: [U209A, U201A", 1),
	} {
		h, faults := language.ParseHeld("held.yaml", []byte(edited), compiler.Language())
		if h == nil {
			t.Fatal(what, faults)
		}
		faults = board.CheckHeld(h)
		if len(faults) == 0 || !strings.Contains(faults[0].Message, what) {
			t.Errorf("%q: %v", what, faults)
		}
	}
}

package compiler_test

import (
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/language"
)

const heldEnds = `bandwright: 1
name: wren
ways: {low: {filters: [{low-pass: {at: 300 Hz, q: 0.7}}]}}
board:
  held: held.yaml
  trim: 1 dB
  input: {balanced: true, coupling: 22 uF, rf-filter: 300 kHz, protection: clamp-diodes}
  output: {build-out: 470 ohm, mute: transistor}
`

// ends are the values of the parts of a use, and the references of all parts outside of
// the stages.
func ends(b *compiler.Build, use board.Use) (values []float64, refs string) {
	for _, c := range b.Board.Chains() {
		for _, p := range c.Ends {
			if p.Use == use {
				values = append(values, p.Value)
			}
			refs += " " + p.Ref
		}
	}
	return values, refs
}

// What filters, protects and mutes is held by reference: held again it is the same file;
// a value that was changed by hand stays, and only another corner brings new ones.
func TestHeldEnds(t *testing.T) {
	first := compiledHeld(t, heldEnds, nil, compiler.Holding{})
	held := string(language.FormatHeld(first.Hold()))
	for _, line := range []string{"{use: series, value: 392 ohm}", "{use: rf-filter, value: 1.2 nF}", "{use: gate, value: 100 kohm}", "{use: trim, value: 500 ohm}"} {
		if !strings.Contains(held, line) {
			t.Fatalf("no %s in\n%s", line, held)
		}
	}
	if k := compiledHeld(t, heldEnds, []byte(held), compiler.Holding{}).Board.Kept; len(k.ByHand)+len(k.Notes)+k.Count() > 0 {
		t.Errorf("held as it stands: %s %q", k.Head(), k.Lines())
	}
	if written := first.Hold().Written; written["R20001"] != 500 {
		t.Errorf("the trimmer is written as %g ohm", written["R20001"])
	}
	_, refs := ends(first, board.RFFilter)
	for _, k := range []struct {
		src, held string
		farad     float64
	}{
		{heldEnds, held, 1.2e-9},
		{heldEnds, strings.ReplaceAll(held, "use: rf-filter, value: 1.2 nF", "use: rf-filter, value: 1.3 nF"), 1.3e-9},
		{strings.Replace(heldEnds, "300 kHz", "310 kHz", 1), held, 1.2e-9},
		{strings.Replace(heldEnds, "300 kHz", "500 kHz", 1), held, 1e-9},
	} {
		b := compiledHeld(t, k.src, []byte(k.held), compiler.Holding{})
		got, names := ends(b, board.RFFilter)
		if len(got) != 2 || got[0] != k.farad || got[1] != k.farad || names != refs {
			t.Errorf("%v and%s, want twice %g and%s", got, names, k.farad, refs)
		}
		if k.src == heldEnds && k.held == held && string(language.FormatHeld(b.Hold())) != held {
			t.Error("held again it is another file")
		}
	}
}

// A corner of the RF filter that takes too much of the band is advised against with one
// that was tried.
func TestLowRFFilter(t *testing.T) {
	src := strings.Replace(strings.Replace(heldEnds, "  held: held.yaml\n", "", 1), "low-pass: {at: 300 Hz, q: 0.7}", "high-pass: {at: 300 Hz, q: 0.7}", 1)
	b := compiledHeld(t, strings.Replace(src, "300 kHz", "60 kHz", 1), nil, compiler.Holding{})
	said := false
	for _, f := range b.Findings {
		if f.Promise == "board-magnitude" {
			said = true
			if f.Kept || !strings.Contains(f.Note, "RF filter") || !strings.Contains(f.Remedy, "board.input.rf-filter: 120 kHz") {
				t.Errorf("%+v", f)
			}
		}
	}
	if kept := compiledHeld(t, strings.Replace(src, "300 kHz", "120 kHz", 1), nil, compiler.Holding{}); !said || kept.Findings[0].Promise != "board-magnitude" || !kept.Findings[0].Kept {
		t.Errorf("%v: %+v", said, kept.Findings)
	}
}

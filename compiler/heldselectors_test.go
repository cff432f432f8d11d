package compiler_test

import (
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

const heldSelectors = `bandwright: 1
name: rail
settings: {trim: [0 dB, -2 dB], place: [free, wall]}
ways:
  low:
    filters:
      - low-pass: {at: 15 kHz, family: butterworth, order: 1, when: {place: wall}}
      - gain: {by: -2 dB, when: {trim: -2 dB}}
  high:
    filters:
      - low-pass: {at: 18 kHz, family: butterworth, order: 1, when: {place: wall}}
promise: {headroom: off, crossover-sum: off, sum: off, board-magnitude: 0.3 dB}
board: {held: held.yaml}
`

// polesOf are the lines that each pole works, and the bleed resistor behind it.
func polesOf(b *compiler.Build) []string {
	var out []string
	for _, s := range b.Board.Selectors() {
		for _, p := range s.Poles {
			text := p.Position.Selector + " " + p.Position.From[0]
			for _, e := range p.Chain.Ends {
				if e.Of == p.Position.Selector {
					text += " " + e.Ref
				}
			}
			out = append(out, text)
		}
	}
	return out
}

// Selectors of a held board keep their numbers, and their poles the order of their letters,
// whatever comes before them; where a pole goes the letters close up. Bleed resistors keep
// their references.
func TestSelectorsAreIdentities(t *testing.T) {
	first := compiledHeld(t, heldSelectors, nil, compiler.Holding{})
	held := language.FormatHeld(first.Hold())
	is := func(what, src string, held []byte, want ...string) {
		t.Helper()
		got := polesOf(compiledHeld(t, src, held, compiler.Holding{}))
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
	}
	is("as it is", heldSelectors, held, "S1A ways.low.filters[0] low-pass R20003", "S1B ways.high.filters[0] low-pass R30003", "S2 ways.low.filters[1] gain")
	more := strings.Replace(heldSelectors, "ways:\n", "common:\n  - low-pass: {at: 16 kHz, family: butterworth, order: 1, when: {place: wall}}\n  - gain: {by: 1 dB, when: {mood: warm}}\nways:\n", 1)
	more = strings.Replace(more, "settings: {", "settings: {mood: [cold, warm], ", 1)
	is("a pole and a selector before", more, held, "S1A ways.low.filters[0] low-pass R20003", "S1B ways.high.filters[0] low-pass R30003", "S1C common[0] low-pass R10003",
		"S3 common[1] gain", "S2 ways.low.filters[1] gain")
	less := strings.Replace(heldSelectors, "      - low-pass: {at: 15 kHz, family: butterworth, order: 1, when: {place: wall}}\n", "", 1)
	is("without the first pole", less, held, "S2 ways.low.filters[0] gain", "S1 ways.high.filters[0] low-pass R30003")
	old := strings.NewReplacer("S1A", "S201", "S1B", "S301", "S2\n", "S203\n").Replace(string(held))
	is("a board that was held with a selector for each pole", heldSelectors, []byte(old), "S201A ways.low.filters[0] low-pass R20003", "S201B ways.high.filters[0] low-pass R30003",
		"S203 ways.low.filters[1] gain")
}

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
      - high-shelf: {at: 300 Hz, q: 0.7, gain: -2 dB, when: {place: wall}}
      - gain: {by: -2 dB, when: {trim: -2 dB}}
  high:
    filters:
      - high-shelf: {at: 3 kHz, q: 0.7, gain: -2 dB, when: {place: wall}}
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
	is("as it is", heldSelectors, held, "S1 ways.low.filters[1] gain", "S2A ways.low.filters[0] high-shelf R20003", "S2B ways.high.filters[0] high-shelf R30003")
	more := strings.Replace(heldSelectors, "ways:\n", "common:\n  - high-shelf: {at: 90 Hz, q: 0.7, gain: 1 dB, when: {place: wall}}\n  - gain: {by: 1 dB, when: {mood: warm}}\nways:\n", 1)
	more = strings.Replace(more, "settings: {", "settings: {mood: [cold, warm], ", 1)
	is("a pole and a selector before", more, held, "S3 common[1] gain", "S2A ways.low.filters[0] high-shelf R20003", "S2B ways.high.filters[0] high-shelf R30003",
		"S2C common[0] high-shelf R10003", "S1 ways.low.filters[1] gain")
	less := strings.Replace(heldSelectors, "      - high-shelf: {at: 300 Hz, q: 0.7, gain: -2 dB, when: {place: wall}}\n", "", 1)
	is("without the first pole", less, held, "S1 ways.low.filters[0] gain", "S2 ways.high.filters[0] high-shelf R30003")
	old := strings.NewReplacer("S2A", "S201", "S2B", "S301", "S1\n", "S203\n").Replace(string(held))
	is("a board that was held with a selector for each pole", heldSelectors, []byte(old), "S203 ways.low.filters[1] gain",
		"S201A ways.low.filters[0] high-shelf R20003", "S201B ways.high.filters[0] high-shelf R30003")
}

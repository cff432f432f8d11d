package compare

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/result"
)

// What is accepted reads back to the very numbers: low corners at high rates hang on
// the last digits of their words.
func TestWordsRoundTrip(t *testing.T) {
	for _, b := range shipped(t) {
		if b.Spec.Digital == nil {
			continue
		}
		a := result.Accept(b)
		was, now := numbers(a), numbers(reread(t, a))
		if len(was) < 10 || len(was) != len(now) {
			t.Fatalf("%s: %d numbers, %d read", b.Spec.Name, len(was), len(now))
		}
		for i := range was {
			if *was[i] != *now[i] {
				t.Errorf("%s: %v reads back as %v", b.Spec.Name, *was[i], *now[i])
			}
		}
		words := 0
		for i, d := range b.Digital {
			for k, w := range d.System.Ways {
				for _, s := range w.Slots {
					for _, alt := range s.Alt {
						words++
						if !slices.ContainsFunc(a.Digital[i].Ways[k].Coefficients, func(x result.AcceptedSection) bool { return [3]float64(x.A) == alt.A && [3]float64(x.B) == alt.B }) {
							t.Errorf("%s: %v is not among what was accepted", b.Spec.Name, alt)
						}
					}
				}
			}
		}
		if words == 0 {
			t.Errorf("%s: no words", b.Spec.Name)
		}
	}
}

// Edits that move next to nothing are no regression, at 192 kHz either: seven of
// dabchick without its board.
func TestTinyEdits(t *testing.T) {
	data, err := os.ReadFile("../../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src, _, _ := strings.Cut(string(data), "\nboard:")
	src = replaced(t, src, "[44.1 kHz, 48 kHz, 96 kHz]", "[96 kHz, 192 kHz]")
	was := reread(t, accepted(t, src))
	for _, e := range [][]string{
		{"at: 38 Hz", "at: 38.001 Hz"}, {"q: 0.9}", "q: 0.9001}"}, {"at: 92 Hz", "at: 92.002 Hz"}, {"gain: -3 dB", "gain: -3.001 dB"},
		{"at: 48 Hz", "at: 48.001 Hz"}, {"at: 700 Hz", "at: 700.05 Hz"}, {"at: 2.4 kHz", "at: 2400.1 Hz"},
	} {
		if c := Results(was, reread(t, accepted(t, replaced(t, src, e...)))); c.Regression {
			t.Errorf("%v: %s", e, c.Text(1000))
		}
	}
}

// A board that moves in a combination of two settings alone is a regression, as is one
// that moves between two thirds of an octave.
func TestBoardInEveryCombination(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src := replaced(t, string(data), "  desk: [none, on-desk]\n", "  desk: [none, on-desk]\n  tone: [plain, warm]\n",
		"  - peak: {at: 170 Hz, q: 0.9, gain: -2 dB, when: {desk: on-desk}}\n",
		"  - peak: {at: 170 Hz, q: 0.9, gain: -2 dB, when: {desk: on-desk}}\n  - peak: {at: 355 Hz, q: 6, gain: -3 dB, when: {desk: on-desk, tone: warm}}\n")
	was := accepted(t, src)
	now := reread(t, was)
	found := 0
	for i := range now.Board.Stages {
		s := &now.Board.Stages[i]
		if s.Filter != "common[1] peak" {
			continue
		}
		for k := range s.Parts {
			p := &s.Parts[k]
			is := *p
			p.Ohm, p.Farad = is.Ohm*1.04, is.Farad*1.04
			in := func(desk, tone string) float64 {
				combos, hz := []map[string]string{{"desk": desk, "tone": tone}}, biquad.Octaves(20, 20e3, 96)
				x, err := was.Board.Responses(combos, hz)
				if err != nil {
					t.Fatal(err)
				}
				y, err := now.Board.Responses(combos, hz)
				if err != nil {
					t.Fatal(err)
				}
				ways, sum := furthest(x, y)
				return math.Max(ways, sum)
			}
			if one, both := math.Max(in("none", "warm"), in("on-desk", "plain")), in("on-desk", "warm"); one < 0.01 && both > 0.06 {
				found++
				c := Results(was, now)
				if text := c.Text(1000); !c.Regression || !strings.Contains(text, "with desk on-desk and tone warm on the board") {
					t.Errorf("%s moves %.2f dB in both and %.3f dB in one: %s", is.Ref, both, one, text)
				}
			}
			*p = is
		}
	}
	if found < 2 {
		t.Errorf("%d parts", found)
	}
}

// Outside of what is promised responses are compared as well.
func TestOutsideOfTheBand(t *testing.T) {
	src := replaced(t, plover(t), "promise: {", "promise: {band: 200 Hz to 10 kHz, ")
	c := Results(accepted(t, src), accepted(t, replaced(t, src, "order: 2, at: 25 Hz", "order: 2, at: 60 Hz")))
	if text := c.Text(1000); !c.Regression || !strings.Contains(text, "! every way: -13.8 dB at 20 Hz") {
		t.Errorf("%s", text)
	}
	// Of two bands that differ both count: the old promise went up to 30 kHz.
	wide := replaced(t, plover(t), "promise: {", "promise: {band: 20 Hz to 30 kHz, ")
	narrow := replaced(t, plover(t), "promise: {", "promise: {band: 20 Hz to 10 kHz, ",
		"      - gain: {by: -1 dB, when", "      - peak: {at: 29 kHz, q: 12, gain: 1 dB}\n      - gain: {by: -1 dB, when")
	if text := Results(accepted(t, wide), accepted(t, narrow)).Text(1000); !strings.Contains(text, "! treble: +1.00 dB at 29 kHz") {
		t.Errorf("%s", text)
	}
}

package board_test

import (
	"fmt"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
)

const ganged = `bandwright: 1
name: rail
settings: {place: [free, wall, corner], trim: [0 dB, -2 dB]}
common:
  - low-shelf: {at: 200 Hz, gain: -3 dB, order: 1, when: {place: wall}}
  - low-shelf: {at: 200 Hz, gain: -5 dB, order: 1, when: {place: corner}}
ways:
  low:
    filters:
      - peak: {at: 90 Hz, q: 1.5, gain: -2 dB, when: {place: corner}}
      - gain: {by: -2 dB, when: {trim: -2 dB}}
  high:
    filters:
      - high-shelf: {at: 8 kHz, gain: -1 dB, order: 1, when: {place: [free, corner]}}
      - gain: {by: -2 dB, when: {trim: -2 dB}}
      - high-shelf: {at: 6 kHz, gain: 1 dB, order: 1, when: {place: wall, trim: -2 dB}}
crossovers:
  - {between: [low, high], family: LR, order: 2, at: 2 kHz}
promise: {headroom: off}
board: {}
`

// What one setting works, in whatever chains, is one selector, whose position is the choice:
// in each of them the contacts of its poles pick what the prototype has there.
func TestOneSettingIsOneSelector(t *testing.T) {
	b := build(t, ganged)
	if b.Board == nil {
		t.Fatal(b.Findings)
	}
	var got []string
	for _, s := range b.Board.Selectors() {
		for _, p := range s.Poles {
			got = append(got, fmt.Sprintf("%s %s: %s of %s: %s", s.Ref, s.String(), p.Position.Selector, b.Board.NameOf(p.Chain), p.Position.From[0]))
		}
	}
	want := []string{
		"S1 3 poles, 3 positions: S1A of common: common[0] low-shelf",
		"S1 3 poles, 3 positions: S1B of low: ways.low.filters[0] peak",
		"S1 3 poles, 3 positions: S1C of high: ways.high.filters[0] high-shelf",
		"S2 2 poles, 2 positions: S2A of low: ways.low.filters[1] gain",
		"S2 2 poles, 2 positions: S2B of high: ways.high.filters[1] gain",
		"S3 6 positions: S3 of high: ways.high.filters[2] high-shelf",
	}
	if !slices.Equal(got, want) {
		t.Errorf("selectors:\n%q, want\n%q", got, want)
	}
	seen := 0
	for place := range 3 {
		for trim := range 2 {
			c := biquad.Combination{uint8(place), uint8(trim)}
			for _, s := range b.Board.Selectors() {
				stands := map[string]int{"S1": place + 1, "S2": trim + 1, "S3": 2*place + trim + 1}[s.Ref]
				if s.Stands(c) != stands {
					t.Errorf("%s stands at %d in %v, want %d", s.Ref, s.Stands(c), c, stands)
				}
				for _, k := range b.Board.Contacts() {
					if !slices.ContainsFunc(s.Poles, func(p board.Pole) bool { return p.Position == k.Position }) {
						continue
					}
					seen++
					if closed := slices.Contains(k.At, stands); closed != k.Closed(c) {
						t.Errorf("%s at position %d: %s is closed: %v, and has to be: %v", s.Ref, stands, k.Ref, closed, k.Closed(c))
					}
				}
			}
		}
	}
	if seen < 6*10 {
		t.Errorf("%d contacts looked at", seen)
	}
}

// The letters of poles go on beyond Z as those of spreadsheet columns do.
func TestLetters(t *testing.T) {
	for k, want := range map[int]string{0: "A", 1: "B", 25: "Z", 26: "AA", 27: "AB", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := board.Letters(k); got != want {
			t.Errorf("pole %d is %s, want %s", k, got, want)
		}
	}
}

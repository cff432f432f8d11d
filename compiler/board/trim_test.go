package board_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
)

// A trimmer moves its way by what was asked for, up and down, also with a track that is 20 %
// off; in the middle of its range in dB the board keeps what it promises.
func TestTrimmerReaches(t *testing.T) {
	for _, db := range []float64{0.05, 0.5, 1, 3, 6} {
		src := strings.Replace(little("", rumbleFree, ""), "board: {}", fmt.Sprintf("board: {trim: %g dB}", db), 1)
		b := build(t, src)
		for _, f := range b.Findings {
			if f.Promise == "board-magnitude" && (!f.Kept || f.Worst > nominal) {
				t.Errorf("%g dB: %+v", db, f)
			}
		}
		var trim board.Part
		for _, p := range b.Board.Ways[0].Ends {
			if p.Use == board.Trim {
				trim = p
			}
		}
		if trim.TrackOhm == 0 {
			t.Fatalf("%g dB: no trimmer in %+v", db, b.Board.Ways[0].Ends)
		}
		s, outs := b.Board.Solver(nil)
		level := func(ohm float64) float64 {
			if err := s.Set(b.Board.PartIndex(trim.Ref), ohm); err != nil {
				t.Fatal(err)
			}
			if err := s.At(1e3); err != nil {
				t.Fatal(err)
			}
			return biquad.DB(s.Voltage(outs[0]))
		}
		middle := level(trim.Value)
		for _, off := range []float64{0.8, 1, 1.2} {
			up, down := level(1e-3)-middle, middle-level(off*trim.TrackOhm)
			if off == 1 && math.Abs(up-down) > 0.02*up+0.001 {
				t.Errorf("%g dB: %.3f dB up and %.3f dB down", db, up, down)
			}
			if up+down < 2*db || db > 0.1 && up+down > 3.2*db {
				t.Errorf("%g dB, a track of %g: %.3f dB up and %.3f dB down", db, off, up, down)
			}
		}
	}
	if b := build(t, little("", rumbleFree, "")).Board; len(b.Ways[0].Ends) != 2 {
		t.Errorf("without a trimmer there are %+v", b.Ways[0].Ends)
	}
}

// What gives a node its direct current is of the stock: the next from 100 kohm up, or the
// largest that will do, or else one of 100 kohm all the same.
func TestRestFromStock(t *testing.T) {
	for in, want := range map[string]float64{
		"{}":                        100e3,
		"{series: E12, to: 1 Mohm}": 100e3,
		"{series: E6, from: 1 kohm, to: 47 kohm}": 47e3,
		"{stock: [1 kohm, 1.2 kohm, 1.5 kohm, 2.2 kohm, 3.3 kohm, 4.7 kohm, 6.8 kohm, 10 kohm, 22 kohm, 120 kohm, 220 kohm]}": 120e3,
		"{from: 100 ohm, to: 10 kohm}": 100e3,
	} {
		src := strings.Replace(little("settings: {cut: [small, large]}\n", rumbleFree+", {peak: {at: 1 kHz, q: 1, gain: -4 dB, when: {cut: large}}}", ""),
			"board: {}", "board: {resistors: "+in+", capacitors: {to: 10 uF}, input: {coupling: 10 uF}, output: {coupling: 10 uF}}", 1)
		src = strings.Replace(src, "promise: {", "promise: {board-magnitude: off, phase: off, ", 1)
		n := 0
		b := build(t, src)
		if b.Board == nil {
			t.Fatalf("%s: %+v", in, b.Findings)
		}
		for _, c := range b.Board.Chains() {
			for _, p := range c.Ends {
				switch p.Use {
				case board.Bias, board.Discharge, board.Bleed:
					if n++; p.Value != want {
						t.Errorf("%s: %s, for %s, is of %g ohm, want %g", in, p.Ref, p.Use, p.Value, want)
					}
				}
			}
		}
		if n < 2 {
			t.Errorf("%s: %d such parts", in, n)
		}
	}
}

package explain

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// The service table of a small board is accepted as it stands, and every stage's every part is in it.
func TestFaults(t *testing.T) {
	b := build(t, shipped(t, "dabchick"))
	text, err := Faults(b, "")
	if err != nil {
		t.Fatal(err)
	}
	const accepted = "testdata/faults.txt"
	if *update {
		if err := os.WriteFile(accepted, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(accepted)
	if err != nil || string(want) != text {
		t.Errorf("%v, or other text than %s: look at it and run with -update\n%s", err, accepted, text)
	}
	for _, c := range b.Board.Chains() {
		for _, s := range c.Built() {
			for _, p := range s.Placed() {
				if p.Kind != netlist.Amplifier && !strings.Contains(text, p.Ref) {
					t.Errorf("%s is not told of", p.Ref)
				}
			}
		}
	}
	for _, l := range strings.Split(text, "\n") {
		if utf8.RuneCountInString(l) > width {
			t.Errorf("wider than the page: %s", l)
		}
	}
	if one, err := Faults(b, "treble"); err != nil || strings.Contains(one, "bass stage") || !strings.Contains(one, "treble stage 1") {
		t.Errorf("of one way: %v", err)
	}
	if _, err := Faults(build(t, shipped(t, "pipit")), ""); err == nil {
		t.Error("without a board")
	}
}

// What a missing part does is what nodal analysis of the board with an open joint finds.
func TestFaultsAreTrue(t *testing.T) {
	b := build(t, shipped(t, "dabchick"))
	text, err := Faults(b, "")
	if err != nil {
		t.Fatal(err)
	}
	c := make(verify.Combination, len(b.Settings))
	tried, peak := 0, math.Inf(-1)
	for _, hz := range biquad.Octaves(20, 20000, 6) {
		peak = math.Max(peak, levelOf(t, b.Board, c, b.Board.Ways[1].Stages()[0].Placed()[0], 1, hz))
	}
	for _, p := range b.Board.Ways[1].Stages()[0].Placed() {
		if p.Kind == netlist.Amplifier {
			continue
		}
		factor := 1e9
		if p.Kind == netlist.Capacitor {
			factor = 1e-9
		}
		greatest := 0.0
		for _, hz := range biquad.Octaves(20, 20000, 6) {
			if levelOf(t, b.Board, c, p, 1, hz) < peak-40 {
				continue
			}
			greatest = further(greatest, levelOf(t, b.Board, c, p, factor, hz)-levelOf(t, b.Board, c, p, 1, hz))
		}
		want := fmt.Sprintf("%s, ", p.Ref)
		_, line, _ := strings.Cut(strings.Join(strings.Fields(text), " "), want)
		line, _, _ = strings.Cut(line, ";")
		switch {
		case strings.Contains(line, "missing treble silent"):
			if greatest > -40 {
				t.Errorf("%s: %g dB, %s", p.Ref, greatest, line)
			}
		case strings.Contains(line, "at the rails"):
			if greatest < 30 {
				t.Errorf("%s: %g dB, %s", p.Ref, greatest, line)
			}
		default:
			_, number, _ := strings.Cut(line, "missing treble ")
			var db float64
			if _, err := fmt.Sscan(number, &db); err != nil || math.Abs(db-greatest) > 0.15 {
				t.Errorf("%s: %g dB, %s", p.Ref, greatest, line)
			}
		}
		tried++
	}
	if tried < 3 {
		t.Errorf("%d parts", tried)
	}
}

// A high-pass whose capacitor is shorted is none, 37.5 dB louder at 20 Hz and within the supply: no op-amp is at a rail. With
// its resistor missing the bias current has nowhere to go: by the DC of the board with one of a thousand gigaohms the op-amp is.
func TestFaultsAtTheRails(t *testing.T) {
	b := build(t, "bandwright: 1\nname: only\nways: {only: {filters: [{high-pass: {family: butterworth, order: 1, at: 1.5 kHz}}]}}\nboard: {}\n")
	text, err := Faults(b, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range b.Board.Ways[0].Stages()[0].Placed() {
		_, line, _ := strings.Cut(text, p.Ref+", ")
		line, _, _ = strings.Cut(line, "\n")
		switch p.Kind {
		case netlist.Capacitor:
			want := 10 * math.Log10(1+math.Pow(1500.0/20, 2)) // the textbook's 1/(1 + (f0/f)²)
			_, number, _ := strings.Cut(line, "; shorted only ")
			var db float64
			if _, err := fmt.Sscanf(number, "%g dB at 20 Hz", &db); err != nil || math.Abs(db-want) > 0.2 {
				t.Errorf("%s: %s, and %.1f dB more", p.Ref, line, want)
			}
		case netlist.Resistor:
			s, outs := b.Board.Solver(make(verify.Combination, 0))
			if err := errors.Join(s.Set(b.Board.PartIndex(p.Ref), 1e12), s.DC()); err != nil {
				t.Fatal(err)
			}
			if v := math.Abs(real(s.Voltage(outs[0]))); v < b.Board.OpAmp.SwingV || !strings.Contains(line, "missing only at the rails") {
				t.Errorf("%s: %s, and %g V", p.Ref, line, v)
			}
		}
	}
}

func further(a, b float64) float64 {
	if math.Abs(b) > math.Abs(a) {
		return b
	}
	return a
}

// levelOf is the treble's level (dB) with a part of so many times its value.
func levelOf(t *testing.T, b *board.Board, c verify.Combination, p board.Placed, factor, hz float64) float64 {
	t.Helper()
	s, outs := b.Solver(c)
	if err := s.Set(b.PartIndex(p.Ref), p.Value*factor); err != nil {
		t.Fatal(err)
	}
	if err := s.At(hz); err != nil {
		t.Fatal(err)
	}
	return biquad.DB(s.Voltage(outs[1]))
}

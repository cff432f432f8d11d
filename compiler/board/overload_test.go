package board_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/words"
)

// A peak of +12 dB makes 2 V at the input 7.96 V, and 11.3 V peak: too much for
// 10 V, and as fast as 2π·8 kHz·11.3 V = 0.566 V/µs. The decibels are the
// spec's; the arithmetic is that of a sine.
func TestOverloadsAreTold(t *testing.T) {
	text := func(swing, slew, common float64) string {
		return strings.Join(build(t, fmt.Sprintf(`bandwright: 1
name: loud
ways:
  only: {filters: [{peak: {at: 8 kHz, q: 1, gain: 12 dB, topology: band-pass-in-feedback}}, {high-pass: {at: 30 Hz, q: 0.7}}], polarity: inverted}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
promise: {magnitude: off, board-magnitude: off}
board: {input: {level: 2 V}, op-amp: {swing: %g V, slew-rate: %g V/us, common-mode: %g V}}
`, swing, slew, common)).Board.Cautions, "\n")
	}
	peak := 2 * math.Sqrt2 * biquad.FromDB(12)
	if got := text(12, 10, 12); strings.Contains(got, "clips") || strings.Contains(got, "common-mode") || strings.Contains(got, "slew rate") {
		t.Errorf("%.2f V with 12 V of swing and 10 V/us: %s", peak, got)
	}
	if got := text(10, 10, 12); !strings.Contains(got, "make it swing 11.") || !strings.Contains(got, "the limit is 10 V): lower `input.level` to 1.7") {
		t.Errorf("%.2f V with 10 V of swing: %s", peak, got)
	}
	// The input stage follows the input: 2.83 V peak.
	if got := text(12, 10, 2); !strings.Contains(got, "common-mode range") || !strings.Contains(got, "the limit is 2 V") {
		t.Errorf("inputs of 2 V: %s", got)
	}
	if got := text(12, 0.5, 12); !strings.Contains(got, "slew rate") || !strings.Contains(got, "V/us, and the op-amp has 0.5") {
		t.Errorf("0.57 V/us with 0.5: %s", got)
	}
}

// The caution, the finding and the report's figure have one clip level, though its
// peak, of Q 14, lies between the frequencies that are looked at.
func TestOneClipLevel(t *testing.T) {
	b := build(t, `bandwright: 1
name: loud
ways:
  only: {filters: [{peak: {at: 7.3 kHz, q: 14, gain: 20 dB}}, {high-pass: {at: 30 Hz, q: 0.7}}]}
digital: {rates: [48 kHz], formats: [float32], method: bilinear, headroom: 21 dB}
promise: {magnitude: off, board-magnitude: off}
board: {input: {level: 2 V}, op-amp: {swing: 5 V}}
`)
	clip := b.Figures[len(b.Figures)-1].ClipV.Value
	told := false
	for _, f := range b.Findings {
		if f.Promise == "board-headroom" {
			told = true
			if math.Abs(f.Worst-biquad.GainDB(2/clip)) > 1e-12 || f.Kept {
				t.Errorf("%.9g dB over, and clips from %.9g V", f.Worst, clip)
			}
		}
	}
	all := strings.Join(b.Board.Cautions, "\n")
	if want := "the limit is 5 V): lower `input.level` to " + words.Part(clip, "V"); !told || !strings.Contains(all, want) {
		t.Errorf("not told that %s: %s", want, all)
	}
	if want := "2 V would make it swing " + words.Part(2/clip*5, "V"); !strings.Contains(all, want) {
		t.Errorf("not told that %s: %s", want, all)
	}
}

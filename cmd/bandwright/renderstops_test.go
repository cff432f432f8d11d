package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/compiler/wave"
)

// Words that stop at full scale: how often they do is told, of the recording and of what is played, as is what
// is no number and plays as silence.
func TestRenderTellsWhatStops(t *testing.T) {
	layout := "formats: [q31, q23], layouts: [{name: core, word: 32 bit, fraction: 20 bit, data: 24 bit, accumulator: 60 bit}]"
	text := "bandwright: 1\nname: wren\nways: {low: {gain: 12 dB}}\npromise: {headroom: off}\ndigital: {rates: [48 kHz], " + layout + "}\n"
	dir := place(t, "wren.yaml", text)
	shape := wave.Shape{RateHz: 48000, Channels: 1, Words: wave.Words{Bits: 32, Float: true}, Frames: 9600}
	recorded(t, filepath.Join(dir, "loud.wav"), shape, func(_, i int) float64 {
		switch i {
		case 5000, 5001, 5002:
			return -1.5
		case 6000:
			return math.NaN()
		case 7000, 7001:
			return 0.5
		case 8000:
			return 0.2
		}
		return 0
	})
	chosen := func(format string) []string { // a layout alone needs no --format
		if format == "core" {
			return nil
		}
		return []string{"--format", format}
	}
	for _, format := range []string{"q31", "q23", "core"} {
		if format == "core" {
			alone := strings.Replace(text, "formats: [q31, q23], ", "", 1)
			if err := os.WriteFile(filepath.Join(dir, "wren.yaml"), []byte(alone), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		r := bandwright(t, dir, append([]string{"render", "wren.yaml", "loud.wav", "-o", "."}, chosen(format)...)...)
		expect(t, format, r, exitKept, "3 samples above full scale, which "+format+" stops", "1 sample without a number", "at full scale, where it clips", "5 samples")
		_, x := played(t, filepath.Join(dir, "wren_low.wav"))
		at := 0
		for _, y := range x[0] {
			if y <= -1 || y >= 1-math.Ldexp(1, -22) {
				at++
			}
		}
		if at != 5 || x[0][6000] > 1e-6 || math.Abs(x[0][8000]-0.2*math.Pow(10, 0.6)) > 1e-4 {
			t.Errorf("%s: %d samples at full scale, %g for what is no number, %g for 0.2", format, at, x[0][6000], x[0][8000])
		}
	}
}

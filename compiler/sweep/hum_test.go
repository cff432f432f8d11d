package sweep

import (
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
)

// hummed is a recording with so many dB of hum, re its peak, and some of its third harmonic.
func hummed(x []float64, hz, db, rateHz float64) []float64 {
	peak := 0.0
	for _, v := range x {
		peak = math.Max(peak, math.Abs(v))
	}
	out := make([]float64, len(x))
	for i, v := range x {
		turn := 2 * math.Pi * hz * float64(i) / rateHz
		out[i] = (v + peak*biquad.FromDB(db)*(math.Sin(turn+1)+0.3*math.Sin(3*turn))) / 4
	}
	return out
}

// Hum that is loud at both ends is no sweep that the window cuts, whatever its level, and it is told, with its frequency, as
// what it is: refused where the way is meant to be heard, and where it is not the response beside it stays right. A
// recording that is cut is refused for that, with hum and without.
func TestLoudHumIsToldAsHum(t *testing.T) {
	const rate = 48000
	reference, long := New(rate, 1, -12).Samples(), New(rate, 4, -12).Samples()
	low, high := 7*rate/10, 13*rate/10 // within the sweep
	for hz, levels := range map[float64][]float64{49.93: {-8, 6}, 60: {0}, 100: {-6, 6}} {
		for _, db := range levels {
			x := hummed(reference, hz, db, rate)
			if troubles := Inspect(reference, x, rate); len(troubles) > 0 {
				t.Errorf("%g Hz, %+g dB: %v", hz, db, troubles)
				continue
			}
			take, err := Deconvolve(reference, x, rate)
			if err != nil {
				t.Fatal(err)
			}
			all := take.Inspect(20, 20000, nil)
			if n := len(all); n == 0 || !all[n-1].Spoiled || !strings.HasPrefix(all[n-1].Message, "it is noisy: at ") {
				t.Errorf("%g Hz, %+g dB, heard: %v", hz, db, all)
			}
			treble := take.Inspect(20, 20000, func(hz float64) bool { return hz > 1500 })
			if len(treble) == 0 || treble[len(treble)-1].Spoiled || !strings.Contains(treble[0].Message, "where nothing is meant to be heard") {
				t.Errorf("%g Hz, %+g dB, not heard: %v", hz, db, treble)
			}
			for _, h := range take.Response([]float64{2000, 5000, 10000}) {
				if off := math.Abs(biquad.GainDB(4 * math.Sqrt(biquad.Power(h)))); !(off < 0.001) {
					t.Errorf("%g Hz, %+g dB: %g dB off", hz, db, off)
				}
			}
		}
	}
	for after, want := range map[float64]string{0.45: "", 1: "it begins when the sweep has passed 14 Hz already", 1.4: "it begins when the sweep has passed 14 Hz already"} {
		take, err := Deconvolve(long, long[int(after*rate):], rate)
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, x := range take.Cut(long, len(long)-int(after*rate), 20, 20000) {
			text = x.Message
		}
		// Nothing is lost of a way that is meant to be heard from 200 Hz on.
		if above := take.Cut(long, len(long)-int(after*rate), 200, 20000); text != want || above != nil {
			t.Errorf("begun after %g s: %q, and %v", after, text, above)
		}
	}
	for what, x := range map[string][]float64{
		"begun in the sweep": reference[low:], "cut at its end": append(make([]float64, rate), reference[:high]...), "both": reference[low:high],
	} {
		for _, db := range []float64{math.Inf(-1), -6} {
			troubles := Inspect(reference, hummed(x, 50, db, rate), rate)
			if len(troubles) != 1 || !troubles[0].Spoiled || !strings.Contains(troubles[0].Message, "window is too short") {
				t.Errorf("%s, %g dB of hum: %v", what, db, troubles)
			}
		}
	}
}

package compiler_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/design"
	"bandwright/compiler/language"
)

// build compiles a spec of ways and crossovers at 96 kHz, promises off.
func build(t *testing.T, body string) (*compiler.Build, []language.Fault) {
	t.Helper()
	src := "bandwright: 1\nname: test\n" + body + `
promise: {magnitude: off, sum: off, phase: off, headroom: off}
digital: {rates: [96 kHz], formats: [float32], method: bilinear}
`
	b := compileSource(t, src)
	return b, b.Warnings
}

// compileSource compiles a spec that must be accepted.
func compileSource(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

const twoWays = "ways: {bass: {}, treble: {polarity: %}}\ncrossovers: [{between: [bass, treble], family: &, at: 2 kHz}]"

// An LR of order 2 or 6 and an even-order Butterworth of order 2 cancel in one
// polarity, an LR of order 4 or 8 in the other (J. Audio Eng. Soc. 24(1), 1976;
// golden/published/lr_alignments.json gives which half is inverted).
func TestCancellingWaysAreWarnedOf(t *testing.T) {
	for _, c := range []struct {
		family, polarity string
		warned           bool
	}{
		{"LR, order: 2", "normal", true}, {"LR, order: 2", "inverted", false},
		{"LR, order: 4", "normal", false}, {"LR, order: 4", "inverted", true},
		{"LR, order: 6", "normal", true}, {"LR, order: 8", "inverted", true},
		{"butterworth, order: 2", "normal", true}, {"butterworth, order: 2", "inverted", false},
		{"butterworth, order: 3", "normal", false}, {"butterworth, order: 3", "inverted", false},
		{"butterworth, order: 1", "normal", false},
	} {
		body := strings.ReplaceAll(strings.ReplaceAll(twoWays, "%", c.polarity), "&", c.family)
		_, faults := build(t, body)
		if (len(faults) == 1) != c.warned {
			t.Errorf("%s, %s: %v", c.family, c.polarity, faults)
			continue
		}
		if c.warned {
			f := faults[0]
			other := map[string]string{"normal": "inverted", "inverted": "normal"}[c.polarity]
			if f.Severity != language.Warning || !strings.Contains(f.Message, "cancel at") || !strings.Contains(f.Right, "polarity: "+other) {
				t.Errorf("%s, %s: %v", c.family, c.polarity, f)
			}
		}
	}
}

func TestWayWithoutCrossoverIsWarnedOf(t *testing.T) {
	b, faults := build(t, "ways: {bass: {}, mid: {}, treble: {}}\ncrossovers: [{between: [bass, mid], family: LR, order: 4, at: 300 Hz}]")
	if len(faults) != 1 || !strings.Contains(faults[0].Message, "`treble`") || len(b.Warnings) != 1 {
		t.Errorf("%v", faults)
	}
}

// Two LR crossovers of order 4 an octave and a half apart: without compensation
// the three ways do not sum flat; exact compensation makes them an all-pass.
func TestPhaseCompensation(t *testing.T) {
	body := `ways: {bass: {}, mid: {}, treble: {}}
crossovers:
  - {between: [bass, mid], family: LR, order: 4, at: 400 Hz}
  - {between: [mid, treble], family: LR, order: 4, at: 1.1 kHz}
phase-compensation: `
	for _, c := range []struct {
		mode   string
		within float64 // dB
	}{{"none", math.Inf(1)}, {"all-pass", 0.6}, {"exact", 1e-12}} {
		b, _ := build(t, body+c.mode)
		var got, none design.CrossoverSum
		for _, s := range b.Sums {
			if s.Chosen {
				got = s
			}
			if s.Compensation == "none" {
				none = s
			}
		}
		if got.Compensation != c.mode || math.Max(-got.LowDB, got.HighDB) > c.within {
			t.Errorf("%s: %+v", c.mode, got)
		}
		if none.HighDB-none.LowDB < 0.5 {
			t.Errorf("uncompensated the ways should not sum flat: %+v", none)
		}
		// The prototype itself must show it, not only the summary.
		worst := 0.0
		for f := 20.0; f < 20000; f *= 1.05 {
			var sum complex128
			for k := range b.Prototype.Ways {
				h := complex(1, 0)
				for _, s := range b.Prototype.Path(k).Slots {
					h *= s.Alt[0].At(2 * math.Pi * f)
				}
				sum += h
			}
			worst = math.Max(worst, math.Abs(20*math.Log10(math.Hypot(real(sum), imag(sum)))))
		}
		if worst > c.within+1e-9 {
			t.Errorf("%s: the prototype's ways sum to within %g dB only", c.mode, worst)
		}
	}
}

// Exclusive neighbours share positions, others do not; a gain under a setting is
// a section; each combination picks the right alternative.
func TestSettingsSharePositions(t *testing.T) {
	b, _ := build(t, `settings:
  place: [free, wall, corner]
  trim: [flat, low]
ways:
  bass:
    filters:
      - low-shelf: {at: 200 Hz, gain: -3 dB, when: {place: wall}}
      - low-shelf: {at: 200 Hz, gain: -6 dB, when: {place: corner}}
      - gain: {by: -2 dB, when: {trim: low}}
      - peak: {at: 1 kHz, q: 1, gain: 4 dB, when: {place: [wall, corner], trim: low}}
`)
	slots := b.Prototype.Ways[0].Slots
	if len(slots) != 3 {
		t.Fatalf("%d positions, want 3: %+v", len(slots), slots)
	}
	level := func(place, trim uint8, f float64) float64 {
		db := 0.0
		for _, s := range slots {
			h := s.Alt[s.Index([]uint8{place, trim})].At(2 * math.Pi * f)
			db += 20 * math.Log10(math.Hypot(real(h), imag(h)))
		}
		return db
	}
	for place, low := range []float64{0, -3, -6} {
		for trim, gain := range []float64{0, -2} {
			// Far below its corner a shelf has its whole gain; the peak at 1 kHz has
			// its own, on top of what the shelf leaves there.
			if got, want := level(uint8(place), uint8(trim), 1), low+gain; math.Abs(got-want) > 0.01 {
				t.Errorf("place %d, trim %d: %.3f dB at 1 Hz, want %g", place, trim, got, want)
			}
			peak := 0.0
			if place > 0 && trim == 1 {
				peak = 4
			}
			got := level(uint8(place), uint8(trim), 1000) - level(uint8(place), 0, 1000) - gain
			if math.Abs(got-peak) > 1e-9 {
				t.Errorf("place %d, trim %d: the peak adds %.6f dB, want %g", place, trim, got, peak)
			}
		}
	}
}

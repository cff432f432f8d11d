package compiler_test

import (
	"context"
	"math"
	"os"
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

// compileSource compiles a spec that must be accepted, from the folder of the shipped ones.
func compileSource(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), os.DirFS("../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

const twoWays = "ways: {bass: {}, treble: {polarity: %}}\ncrossovers: [{between: [bass, treble], family: &, at: 2 kHz}]"

// The level at the corner (dB) of what two sides of an alignment sum to: a null
// where an LR of order 2 or 6 or an even-order Butterworth of order 2 is in
// polarity, an LR of order 4 or 8 out of it; 0 dB for an LR in the other polarity and
// for a Butterworth of odd order in either, 10·lg 2 for one of order 2 inverted
// (J. Audio Eng. Soc. 24(1), 1976; golden/published/lr_alignments.json gives which
// half is inverted). A null breaks the promise with the advice to turn one way.
func TestCrossoverSums(t *testing.T) {
	null, half := float64(design.NullDB), 10*math.Log10(2)
	for _, c := range []struct {
		family, polarity string
		db               float64
	}{
		{"LR, order: 2", "normal", null}, {"LR, order: 2", "inverted", 0},
		{"LR, order: 4", "normal", 0}, {"LR, order: 4", "inverted", null},
		{"LR, order: 6", "normal", null}, {"LR, order: 8", "inverted", null},
		{"butterworth, order: 2", "normal", null}, {"butterworth, order: 2", "inverted", half},
		{"butterworth, order: 3", "normal", 0}, {"butterworth, order: 3", "inverted", 0},
		{"butterworth, order: 1", "normal", 0},
	} {
		body := strings.ReplaceAll(strings.ReplaceAll(twoWays, "%", c.polarity), "&", c.family)
		b, _ := build(t, body)
		what := c.family + ", " + c.polarity
		if len(b.Pairs) != 1 || b.Pairs[0].Lower != "bass" {
			t.Fatalf("%s: %+v", what, b.Pairs)
		}
		e := b.Pairs[0].Extremes
		got, hz := e.LowDB, e.LowHz
		if c.db > 0 {
			got, hz = e.HighDB, e.HighHz
		}
		if math.Abs(got-c.db) > 1e-9 || c.db != 0 && math.Abs(hz/2000-1) > 1e-6 {
			t.Errorf("%s: %.9f dB at %g Hz, want %.9f", what, got, hz, c.db)
		}
		found := 0
		for _, f := range b.Findings {
			if f.Promise != "crossover-sum" {
				continue
			}
			found++
			if f.Way != "bass+treble" || f.Kept != (c.db != null) || math.Abs(f.Worst-math.Abs(c.db)) > 1e-9 {
				t.Errorf("%s: %+v", what, f)
			}
			if !f.Kept && (!strings.Contains(f.Remedy, "turn the polarity of treble, which would leave") || strings.Contains(f.Remedy, "allow")) {
				t.Errorf("%s: advice %q", what, f.Remedy)
			}
		}
		if found != 1 {
			t.Errorf("%s: %d findings", what, found)
		}
	}
}

// Pairs and all ways are told apart, one advice serves both, and following it keeps
// the promise.
func TestCrossoverSumOfThreeWays(t *testing.T) {
	body := `ways: {bass: {}, mid: {polarity: %}, treble: {}}
crossovers:
  - {between: [mid, treble], family: LR, order: 2, at: 3 kHz}
  - {between: [bass, mid], family: LR, order: 2, at: 300 Hz}
`
	for polarity, kept := range map[string]bool{"normal": false, "inverted": true} {
		b, _ := build(t, strings.ReplaceAll(body, "%", polarity))
		ways := map[string]bool{}
		for _, f := range b.Findings {
			if f.Promise != "crossover-sum" {
				continue
			}
			ways[f.Way] = true
			if f.Kept != kept || !kept && !strings.HasPrefix(f.Remedy, "turn the polarity of mid") {
				t.Errorf("mid %s: %+v", polarity, f)
			}
		}
		if len(ways) != 3 || !ways["sum"] || !ways["bass+mid"] || !ways["mid+treble"] {
			t.Errorf("mid %s: findings on %v", polarity, ways)
		}
	}
}

// An advice says what it leaves, and never that it keeps what it does not: sides an
// octave apart sag in one polarity and cancel in the other; following the whole
// advice keeps the promise.
func TestCrossoverAdviceKeepsThePromise(t *testing.T) {
	body := `ways: {bass: {}, treble: {polarity: %}}
crossovers: [{between: [bass, treble], low: {family: LR, order: 4, at: 1 kHz}, high: {family: LR, order: 4, at: 2 kHz}}]
`
	for _, polarity := range []string{"normal", "inverted"} {
		b, _ := build(t, strings.ReplaceAll(body, "%", polarity))
		for _, f := range b.Findings {
			if f.Promise != "crossover-sum" || f.Kept {
				continue
			}
			_, limit, told := strings.Cut(f.Remedy, "allow promise.crossover-sum: ")
			if !told {
				t.Fatalf("%s: %q", polarity, f.Remedy)
			}
			other := map[bool]string{true: map[string]string{"normal": "inverted", "inverted": "normal"}[polarity], false: polarity}[strings.HasPrefix(f.Remedy, "turn")]
			src := "bandwright: 1\nname: test\n" + strings.ReplaceAll(body, "%", other) + "promise: {magnitude: off, sum: off, phase: off, headroom: off, crossover-sum: " + limit +
				"}\ndigital: {rates: [96 kHz], formats: [float32], method: bilinear}\n"
			for _, g := range compileSource(t, src).Findings {
				if g.Promise == "crossover-sum" && !g.Kept {
					t.Errorf("%s: %q was followed: %+v", polarity, f.Remedy, g)
				}
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

// Crossovers that do not sum to an all-pass cannot be compensated, and each says
// why; one that does may.
func TestCompensationNeedsAnAllPassSum(t *testing.T) {
	for _, c := range []struct{ sides, polarity, fault string }{
		{"family: LR, order: 4, at: 300 Hz", "normal", ""},
		{"family: LR, order: 2, at: 300 Hz", "inverted", ""},
		{"family: butterworth, order: 3, at: 300 Hz", "normal", ""},
		{"family: butterworth, order: 3, at: 300 Hz", "inverted", ""},
		{"family: LR, order: 2, at: 300 Hz", "normal", "LR of order 2 sums to an all-pass only if the polarity of one of `bass` and `mid` is changed"},
		{"low: {family: LR, order: 4, at: 300 Hz}, high: {family: LR, order: 4, at: 310 Hz}", "normal", "the two sides between `bass` and `mid` differ"},
		{"low: {family: LR, order: 4, at: 300 Hz}, high: {family: LR, order: 8, at: 300 Hz}", "normal", "the two sides between `bass` and `mid` differ"},
		{"family: butterworth, order: 2, at: 300 Hz", "normal", "the sides of a butterworth crossover of order 2 do not sum"},
		{"family: bessel, order: 4, at: 300 Hz", "normal", "the sides of a bessel crossover of order 4 do not sum"},
		{"at: 300 Hz, q: 0.5", "inverted", "are sections with `q`, which do not sum to an all-pass"},
	} {
		src := "bandwright: 1\nname: test\nways: {bass: {polarity: " + c.polarity + "}, mid: {}, treble: {polarity: normal}}\n" +
			"crossovers:\n  - {between: [bass, mid], " + c.sides + "}\n  - {between: [mid, treble], family: LR, order: 4, at: 3 kHz}\n" +
			"phase-compensation: all-pass\ndigital: {rates: [96 kHz], formats: [float32], method: bilinear}\n"
		b, faults, err := compiler.Compile(context.Background(), "test.yaml", []byte(src), nil)
		switch {
		case err != nil:
			t.Fatal(err)
		case c.fault == "":
			if b == nil || len(b.Prototype.Ways[2].Slots) < 3 {
				t.Errorf("%s, %s: %v", c.sides, c.polarity, faults)
			}
		case b != nil || len(faults) != 1 || !strings.Contains(faults[0].Message, c.fault) || faults[0].Right == "":
			t.Errorf("%s, %s: %v, want %q", c.sides, c.polarity, faults, c.fault)
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

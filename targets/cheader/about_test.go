package cheader

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
)

// resonance is s² + (w/q)·s + w² below 1, and its impulse-invariant poles
// z = exp(-w/(2q·rate))·exp(±j·w·sqrt(1 - 1/(4q²))/rate), as in Oppenheim and
// Schafer, Discrete-Time Signal Processing, section 7.1.
func resonance(hz, q, rate float64) (biquad.Analog, biquad.Digital) {
	w := 2 * math.Pi * hz
	r, turn := 1.0, w*math.Sqrt(1-1/(4*q*q))/rate
	for n, x := 1, -w/(2*q*rate); n < 30; n++ { // the series of exp
		term := 1.0
		for k := 1; k <= n; k++ {
			term *= x / float64(k)
		}
		r += term
	}
	return biquad.Analog{W0: w, B: [3]float64{1}, A: [3]float64{1, 1 / q, 1}},
		biquad.Digital{B: [3]float64{0.01}, A: [3]float64{1, -2 * r * math.Cos(turn), r * r}}
}

// The comment above a row ties it to a line of the spec: by its label, or where
// a way's lines were made together by the line that has the same poles; and it
// tells frequency and Q.
func TestRowsTellLineFrequencyAndQ(t *testing.T) {
	const rate = 48000
	low, lowMade := resonance(260, 0.707, rate)
	peak, peakMade := resonance(92, 1.9, rate)
	_, other := resonance(5000, 0.6, rate)
	onePole := biquad.Digital{B: [3]float64{0.1}, A: [3]float64{1, -0.9}} // -ln(0.9)·48000/2π = 804.9 Hz
	extra := biquad.Digital{B: [3]float64{1, 0.1}, A: [3]float64{1, 0.5, 0.06}}
	b := &compiler.Build{}
	b.Settings = []verify.Setting{{Name: "trim", Choices: []string{"none", "some", "much"}}}
	way := biquad.Way[biquad.Analog]{Name: "bass"}
	way.Slots = []biquad.Slot[biquad.Analog]{biquad.Fixed(low, "crossovers[0] low-pass"), biquad.Fixed(peak, "ways.bass.filters[1] peak")}
	b.Prototype.Ways = []biquad.Way[biquad.Analog]{way}
	d := compiler.Digital{RateHz: rate}
	d.System.Ways = []biquad.Way[biquad.Digital]{{Name: "bass"}}
	together := func(s biquad.Digital) biquad.Slot[biquad.Digital] { return biquad.Fixed(s, "ways.bass") }
	switched := biquad.Slot[biquad.Digital]{
		From: []string{"ways.bass.filters[2] high-shelf", "ways.bass.filters[2] high-shelf + ways.bass.filters[3] gain", "ways.bass.filters[3] gain"},
		Alt:  []biquad.Digital{other, biquad.Through(biquad.Direct), {B: [3]float64{0.5}, A: [3]float64{1}}},
		By:   []biquad.Axis{{Setting: 0, Choices: 3}}, Pick: []uint8{1, 0, 2},
	}
	for _, c := range []struct {
		cascade int
		slot    biquad.Slot[biquad.Digital]
		want    string
	}{
		{1, together(lowMade), "48000 Hz, bass 3: crossovers[0] low-pass, poles at 260 Hz, Q 0.707; direct, 0 dB"},
		{1, together(peakMade), "48000 Hz, bass 3: ways.bass.filters[1] peak, poles at 92 Hz, Q 1.90; direct, 0 dB"},
		{1, together(other), "48000 Hz, bass 3: ways.bass, poles at 5 kHz, Q 0.600; direct, 0 dB"},
		{1, together(extra), "48000 Hz, bass 3: ways.bass, poles at half the rate; direct, 0 dB"},
		{0, biquad.Fixed(lowMade, "common[0] low-pass"), "48000 Hz, common 3: common[0] low-pass, poles at 260 Hz, Q 0.707; direct, 0 dB"},
		{0, biquad.Fixed(onePole, "common[1] low-pass"), "48000 Hz, common 3: common[1] low-pass, pole at 804.9 Hz; direct, 0 dB"},
		{1, switched, "48000 Hz, bass 3: by choice; direct, 0 dB"},
	} {
		if got := about(b, place{d, c.cascade, 3}, c.slot); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
	for alt, want := range []string{
		"trim some: ways.bass.filters[2] high-shelf, poles at 5 kHz, Q 0.600",
		"trim none: straight through",
		"trim much: ways.bass.filters[3] gain, -6.021 dB",
	} {
		if got := aboutChoice(b, place{d, 1, 3}, switched, alt); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
}

// No row stands without its frequency, gain or choice above it or beside it.
func TestEveryRowIsTold(t *testing.T) {
	told := regexp.MustCompile(`poles? at |: straight through|: .*, -?[0-9.]+ dB|no choice picks this|unused|constant, `)
	for _, s := range shapes {
		for _, f := range code(t, s.build()) {
			var above, row strings.Builder
			judge := func() {
				if text := above.String() + row.String(); row.Len() > 0 && !told.MatchString(text) {
					t.Errorf("%s: %s", f.Name, text)
				}
				if row.Len() > 0 {
					above.Reset()
					row.Reset()
				}
			}
			for _, line := range strings.Split(strings.Join(sectionRows.FindAllString(string(f.Data), -1), "\n"), "\n") {
				if !strings.HasPrefix(line, "      ") { // the second line of a row begins so
					judge()
				}
				if text, ok := strings.CutPrefix(line, "    /* "); ok {
					above.WriteString(strings.TrimSuffix(text, "*/"))
				} else if strings.HasPrefix(line, "    ") {
					row.WriteString(line)
				}
			}
			judge()
		}
	}
}

// sectionRows are the tables of sections.
var sectionRows = regexp.MustCompile(`(?s)_sections_\d+\[\d+\] = \{\n.*?\n\};`)

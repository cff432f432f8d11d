package result

import (
	"context"
	"os"
	"strings"
	"testing"

	"bandwright/compiler"
)

// plover is the spec that the edits below change.
func plover(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile("testdata/plover.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

func accepted(t *testing.T, src string) *Accepted {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "plover.yaml", []byte(src), compiler.Options{})
	if b == nil {
		t.Fatal(faults, err)
	}
	return Accept(b)
}

// edited is the spec with pairs of texts replaced, each of which must be there.
func edited(t *testing.T, src string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if strings.Count(src, pairs[i]) != 1 {
			t.Fatalf("%q is there %d times", pairs[i], strings.Count(src, pairs[i]))
		}
		src = strings.Replace(src, pairs[i], pairs[i+1], 1)
	}
	return src
}

// TestPrint shows what each edit gives.
func TestPrint(t *testing.T) {
	src := plover(t)
	was := accepted(t, src)
	for _, e := range specEdits {
		c := Compare(was, accepted(t, edited(t, src, e.replace...)))
		t.Logf("%q\n%s", e.replace, c.Text(1000))
	}
}

type specEdit struct {
	replace    []string
	regression bool
	want       []string // sentences, in order
}

var specEdits = []specEdit{
	{replace: []string{"at: 260 Hz", "at: 252 Hz"}},
	{replace: []string{"at: 2.5 kHz", "at: 2.6 kHz"}},
	{replace: []string{"order: 4, at: 2.5 kHz", "order: 8, at: 2.5 kHz"}},
	{replace: []string{"family: LR, order: 4, at: 260 Hz", "family: butterworth, order: 3, at: 260 Hz"}},
	{replace: []string{"{between: [bass, mid], family: LR, order: 4, at: 260 Hz}", "{between: [bass, mid], low: {family: LR, order: 4, at: 250 Hz}, high: {family: LR, order: 4, at: 260 Hz}}"}},
	{replace: []string{"at: 92 Hz", "at: 95 Hz"}},
	{replace: []string{"q: 2.2", "q: 2.4"}},
	{replace: []string{"gain: -2.5 dB", "gain: -3 dB"}},
	{replace: []string{"      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}\n", ""}},
	{replace: []string{"gain: -2.5 dB}\n", "gain: -2.5 dB}\n      - notch: {at: 180 Hz, q: 8}\n"}},
	{replace: []string{"      - pole-shift", "      - peak: {at: 150 Hz, q: 1, gain: 1 dB}\n      - pole-shift"}},
	{replace: []string{"peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}", "high-shelf: {at: 92 Hz, q: 0.7, gain: -1 dB}"}},
	{replace: []string{"      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}\n      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}", "      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}\n      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}"}},
	{replace: []string{"to: {at: 40 Hz", "to: {at: 38 Hz"}},
	{replace: []string{"gain: -4 dB", "gain: -4.2 dB"}},
	{replace: []string{"gain: -4 dB", "gain: -4.02 dB"}},
	{replace: []string{"gain: -1.5 dB", "gain: -1.5 dB\n    polarity: inverted"}},
	{replace: []string{"delay: 0.1 ms", "delay: 0.13 ms"}},
	{replace: []string{"    delay: 0.1 ms\n", ""}},
	{replace: []string{"at: 25 Hz", "at: 30 Hz"}},
	{replace: []string{"gain: -3 dB, q: 0.7, when: {placement: wall}", "gain: -4 dB, q: 0.7, when: {placement: wall}"}},
	{replace: []string{"when: {placement: wall}", "when: {placement: free}"}},
	{replace: []string{"by: -1 dB, when", "by: -2 dB, when"}},
	{replace: []string{"[free, wall]", "[free, wall, corner]"}},
	{replace: []string{"[free, wall]", "[wall, free]"}},
	{replace: []string{"  trim: [0 dB, -1 dB]\n", "", "      - gain: {by: -1 dB, when: {trim: -1 dB}}\n", "      - gain: {by: -1 dB}\n"}},
	{replace: []string{"  trim: [0 dB, -1 dB]\n", "  trim: [0 dB, -1 dB]\n  cloth: [none, woven]\n", "trim: -1 dB}}\n", "trim: -1 dB}}\n      - high-shelf: {at: 7 kHz, gain: 1 dB, q: 0.7, when: {cloth: woven}}\n"}},
	{replace: []string{"[96 kHz]", "[96 kHz, 48 kHz]"}},
	{replace: []string{"[96 kHz]", "[48 kHz]"}},
	{replace: []string{"[float32]", "[float64]"}},
	{replace: []string{"method: bilinear", "method: magnitude-matched"}},
	{replace: []string{"method: bilinear", "method: bilinear\n  headroom: 3 dB"}},
	{replace: []string{"magnitude: 60 dB", "magnitude: 0.01 dB"}},
	{replace: []string{"magnitude: 60 dB", "magnitude: 80 dB"}},
	{replace: []string{"promise: {", "regression: {magnitude: 1 dB, phase: 20 deg, delay: 100 us}\npromise: {", "at: 260 Hz", "at: 252 Hz"}},
	{replace: []string{"digital:\n", "phase-compensation: all-pass\ndigital:\n"}},
	{replace: []string{"revision: A1", "revision: A2\ntitle: Plover"}},
	{replace: []string{"      - peak: {at: 1.1 kHz", "      - all-pass: {at: 1 kHz, order: 2, q: 0.7}\n      - peak: {at: 1.1 kHz"}},
	{replace: []string{"at: 260 Hz", "at: 0.26 kHz", "delay: 0.1 ms", "delay: 34.3 mm", "# All loudspeaker data in this file is invented.", "# Nothing"}},
	{replace: []string{"{between: [mid, treble], family: LR, order: 4, at: 2.5 kHz}", "{between: [mid, treble], low: &x {at: 2500 Hz, order: 4, family: LR}, high: *x}", "    gain: -4 dB\n", "", "  bass:\n", "  bass:\n    polarity: normal\n    gain: -4.0 dB\n"}},
	{replace: []string{"at: 92 Hz, q: 2.2", "at: 95 Hz, q: 2.5", "gain: -4 dB", "gain: -3.5 dB", "at: 2.5 kHz", "at: 2.4 kHz"}},
	{replace: []string{"  mid:\n    filters:\n      - peak: {at: 1.1 kHz, q: 1.5, gain: -2 dB}\n", "", "  - {between: [bass, mid], family: LR, order: 4, at: 260 Hz}\n", "", "between: [mid, treble]", "between: [bass, treble]"}},
	{replace: []string{"  - {between: [bass, mid], family: LR, order: 4, at: 260 Hz}\n", ""}},
	{replace: []string{"at: 1.1 kHz, q: 1.5", "at: 1.1 kHz, q: 1.5, method: fit"}},
}

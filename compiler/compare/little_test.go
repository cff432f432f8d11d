package compare

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

// ringed has a filter of which all but one choice of its setting know nothing, and as many filters that may go.
const ringed = `bandwright: 1
name: ringed
settings: {knob: [flat, up, down]}
ways:
  low:
    filters:
      - high-shelf: {at: 5 kHz, gain: 2 dB, q: 0.7, when: {knob: up}}
      - peak: {at: 400 Hz, q: 1, gain: -2 dB}
      - peak: {at: 900 Hz, q: 2, gain: 1 dB}
      - all-pass: {order: 1, at: 700 Hz}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
promise: {magnitude: 1 dB, headroom: off}
`

func ofRinged(t *testing.T, src string) *result.Accepted {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "ringed.yaml", []byte(src), nil)
	if b == nil {
		t.Fatal(faults, err)
	}
	return result.Accept(b)
}

// What an edit of a filter that one choice alone has does by a few thousandths of a decibel is told, as by the textbook's shelf
// it is 0.0097, 0.0039 and 0.0019 dB at 20 kHz; what is below what is told is said to be small, and only what is nothing
// is said to be nothing.
func TestLittleOfOneChoice(t *testing.T) {
	was := ofRinged(t, ringed)
	for gain, want := range map[string]string{
		"2.01":   "* low: +0.010 dB at 20 kHz with knob up, because ways.low.filters[0].gain went from 2 dB to 2.01 dB\n",
		"2.004":  "* low: +0.004 dB at 20 kHz with knob up, because",
		"2.002":  "* low: +0.002 dB at 20 kHz with knob up, because",
		"2.0004": "* ways.low.filters[0].gain went from 2 dB to 2.0004 dB, which moves no response by 0.001 dB or 0.01 deg at any setting that both have\n",
	} {
		if text := Results(was, ofRinged(t, replaced(t, ringed, "gain: 2 dB", "gain: "+gain+" dB"))).Text(1000); !strings.Contains(text, want) {
			t.Errorf("%s dB: got\n%swant %s", gain, text, want)
		}
	}
	for edit, want := range map[string]string{
		"at: 700.3 Hz": "* low: +0.02 deg at ",
		"at: 7 Hz":     "deg at ",
	} {
		text := Results(was, ofRinged(t, replaced(t, ringed, "at: 700 Hz", edit))).Text(1000)
		if !strings.Contains(text, want) || strings.Contains(text, "0.0 deg") {
			t.Errorf("%s: got\n%swant %s", edit, text, want)
		}
	}
}

// More sections never changed than there are: those that went, too, are of the sections that there were.
func TestSectionsThatChanged(t *testing.T) {
	was := ofRinged(t, ringed)
	for _, c := range []struct {
		replace []string
		want    string
	}{
		{[]string{"      - peak: {at: 900 Hz, q: 2, gain: 1 dB}\n", "", "at: 400 Hz", "at: 410 Hz", "at: 700 Hz", "at: 710 Hz", "gain: 2 dB", "gain: 3 dB"}, "* 10 of 10 sections changed coefficients"},
		{[]string{"at: 400 Hz", "at: 410 Hz"}, "* 2 of 10 sections changed coefficients"},
	} {
		text := Results(was, ofRinged(t, replaced(t, ringed, c.replace...))).Text(1000)
		var changed, all int
		if at := strings.Index(text, " sections changed"); at > 0 {
			_, _ = fmt.Sscanf(text[strings.LastIndex(text[:at], "* "):], "* %d of %d", &changed, &all)
		}
		if !strings.Contains(text, c.want) || changed > all {
			t.Errorf("got\n%swant %s", text, c.want)
		}
	}
}

package report_test

import (
	"strings"
	"testing"
)

// The report tells what filters the input and what that costs, what mutes the outputs, and
// what to connect for a test; of a board without them it says nothing of the kind.
func TestProtectedBoard(t *testing.T) {
	const spec = `bandwright: 1
name: wren
ways: {low: {filters: [{high-pass: {at: 30 Hz, q: 0.7}}, {low-pass: {at: 300 Hz, q: 0.7}}]}}
board:
  input: {balanced: true, coupling: 22 uF, rf-filter: 300 kHz}
  output: {build-out: 300 ohm, mute: relay}
`
	said := func(src string) string {
		s := text(t, compile(t, src))
		tidy(t, "report", s)
		return strings.Join(strings.Fields(s), " ")
	}
	full, plain := said(spec), said(strings.NewReplacer(", rf-filter: 300 kHz", "", ", mute: relay", "").Replace(spec))
	for _, want := range []string{
		"RF filter of the input: 392 ohm and 1.2 nF in each leg, 300 kHz with the source, -0.0193 dB at 20 kHz",
		"common-mode rejection with tolerances at their worst signs: the RF filter's two legs alone 73.7 dB at 1 kHz and 48.3 dB at 20 kHz, the whole input 33.9 dB and 33.6 dB",
		"mute: relay, 75.3 dB down; 12 V at the node `mute` opens the outputs, and without a supply they are muted",
		"all ways lag the prototype by 0.530 us",
		"The node `mute` has 12 V; with 0 V there every output is to be at least 72 dB lower",
	} {
		if !strings.Contains(full, want) {
			t.Errorf("no %q in\n%s", want, full)
		}
		first, _, _ := strings.Cut(want, ":")
		if first != want && strings.Contains(plain, first+":") {
			t.Errorf("%q also without", first)
		}
	}
}

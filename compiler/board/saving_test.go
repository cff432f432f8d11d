package board_test

import (
	"slices"
	"strings"
	"testing"

	"bandwright/compiler/circuit"
)

// What saves an op-amp at a price is built where a filter names it, with one op-amp, keeps what is promised,
// and is never taken unasked.
func TestSavingOnRequest(t *testing.T) {
	for _, k := range []struct{ filter, topology string }{
		{"peak: {at: 1 kHz, q: 1.5, gain: -4 dB}", "multiple-feedback-cut"},
		{"peak: {at: 1 kHz, q: 1.2, gain: 3 dB}", "multiple-feedback-boost"},
		{"peak: {at: 90 Hz, q: 2, gain: 4 dB}", "multiple-feedback-boost"},
		{"all-pass: {at: 500 Hz, q: 0.8}", "multiple-feedback-cut"},
	} {
		used := func(filter string) (all []*circuit.Topology) {
			b := build(t, strings.Replace(little("", "{"+filter+"}, {low-pass: {at: 5 kHz, q: 0.7}}", ", gain: -7 dB"), "headroom: off}", "headroom: off, board-yield: off, board-spread: off}", 1))
			for _, f := range b.Findings {
				if !f.Kept {
					t.Errorf("%s: %+v", filter, f)
				}
			}
			for _, c := range b.Board.Chains() {
				for _, s := range c.Built() {
					all = append(all, s.Topology)
				}
			}
			return all
		}
		saves := func(x *circuit.Topology) bool { return x.Saves }
		if unasked := used(k.filter); slices.ContainsFunc(unasked, saves) {
			t.Errorf("%s: one that saves is taken unasked", k.filter)
		}
		asked := used(strings.TrimSuffix(k.filter, "}") + ", topology: " + k.topology + "}")
		if n := slices.IndexFunc(asked, saves); n < 0 || asked[n].Name != k.topology || asked[n].OpAmps() != 1 {
			t.Errorf("%s: %s is not taken", k.filter, k.topology)
		}
	}
}

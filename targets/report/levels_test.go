package report_test

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler/verify"
	"bandwright/compiler/words"
)

// twoSources is a board that clips: 2 V of line, or 0.9 V of a phone with 9 dB of gain.
const twoSources = `bandwright: 1
name: sources
settings: {source: [line, phone]}
ways:
  low: {filters: [{gain: {by: 9 dB, when: {source: phone}}}, {peak: {at: 80 Hz, q: 3, gain: 8 dB}}], gain: 6 dB}
  high: {filters: [{gain: {by: 9 dB, when: {source: phone}}}]}
crossovers: [{between: [low, high], family: LR, order: 4, at: 1 kHz}]
promise: {board-spread: off, board-yield: off}
board:
  supply: 9 V
  input: {level: {source: {line: 2 V, phone: 0.9 V}}}
  output: {load: 600 ohm}
  op-amp: {slew-rate: 0.3 V/us, supply-current: 1.8 mA, supply-range: 2.5 V to 18 V}
`

// The report tells the input's levels, where each way clips and by what, the volts
// from the source to the output, and what each rail gives.
func TestLevelPlan(t *testing.T) {
	b := compile(t, twoSources)
	s := text(t, b)
	tidy(t, "report", s)
	running := strings.Join(strings.Fields(s), " ")
	amps := 0
	for _, p := range b.Board.Packages {
		amps += len(p.Units) + len(p.Spare)
	}
	for _, want := range []string{
		"a sine of 2 V with source: line, 0.9 V with source: phone at the input",
		"output clips from op-amp stage by asked of at headroom",
		"with source: phone; noise ",
		fmt.Sprintf("at rest %s %s %d op-amps of 1.8 mA", words.Part(1.8e-3*float64(amps), "A"), words.Part(words.Round(9*1.8e-3*float64(amps), 3), "W"), amps),
		"reckoned as if nothing clipped", "made for rails of +-2.5 V to +-18 V",
	} {
		if !strings.Contains(running, want) {
			t.Errorf("%q is missing in\n%s", want, s)
		}
	}
	// A way's row has the headroom of the figures, negative as its promise is broken.
	for _, f := range b.Figures {
		if f.Way == verify.SumName || !f.OverdriveDB.Known {
			continue
		}
		row := regexp.MustCompile(`(?m)^  ` + f.Way + ` .* ` + regexp.QuoteMeta(fmt.Sprintf("%.1f dB", -f.OverdriveDB.Value)) + `$`)
		if !row.MatchString(s) || f.OverdriveDB.Value < 1 {
			t.Errorf("no row of %s with %.1f dB:\n%s", f.Way, -f.OverdriveDB.Value, s)
		}
	}
	// Every stage of a way's path is a row of its table, and what its chain ends in is the
	// plan's voltage.
	p, err := b.Board.LevelPlan(verify.Case{C: verify.Combination{1}})
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	for _, l := range p.Stages {
		if l.Chain != "low" {
			continue
		}
		row := regexp.MustCompile(fmt.Sprintf(`(?m)^  %d +.* %s .* %s$`, l.Number, regexp.QuoteMeta(words.Volt.Measured(l.V)), l.Clip.OpAmp))
		where := row.FindStringIndex(s[at:])
		if where == nil {
			t.Fatalf("no row of stage %d, %g V, behind\n%s", l.Number, l.V, s[at:])
		}
		at += where[1]
	}
	if want := "the output "; !strings.Contains(strings.Join(strings.Fields(s[at:]), " "), want+words.Volt.Measured(p.OutV)) || math.IsNaN(p.OutV) {
		t.Errorf("no output of %g V", p.OutV)
	}
}

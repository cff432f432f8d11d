package compiler_test

import (
	"regexp"
	"strings"
	"testing"

	"bandwright/compiler/verify"
)

// boardBroken is a board from coarse series that breaks what it promises of its
// response and of its noise.
const boardBroken = `bandwright: 1
name: test
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 60 Hz, q: 1}, to: {at: 30 Hz, q: 0.7}}
  treble:
    filters:
      - peak: {at: 9 kHz, q: 3, gain: 4 dB}
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 2 kHz}
promise: {board-magnitude: LIMIT, board-noise: -103 dBu}
board: {resistors: {series: E12}, capacitors: {series: E6}, output: {coupling: 22 uF}}
`

// What is advised was tried: the line that a finding gives, written into the spec,
// keeps the promise; and the finding names the stage that makes most of the error.
func TestBoardAdviceHelps(t *testing.T) {
	src := strings.Replace(boardBroken, "LIMIT", "0.05 dB", 1)
	lines := regexp.MustCompile(`^board\.(resistors|capacitors)\.series: (E\d+), or allow promise`)
	told := 0
	for _, f := range compileSource(t, src).Findings {
		if f.Kept || f.Promise != "board-magnitude" {
			continue
		}
		told++
		line := lines.FindStringSubmatch(f.Remedy)
		if line == nil || !strings.Contains(f.Note, "most of it in "+f.Way+" stage ") {
			t.Fatalf("%+v", f)
		}
		was := map[string]string{"resistors": "resistors: {series: E12}", "capacitors": "capacitors: {series: E6}"}[line[1]]
		better := strings.Replace(src, was, line[1]+": {series: "+line[2]+"}", 1)
		if !kept(compileSource(t, better).Findings, f) {
			t.Errorf("%q does not keep %s of %s", line[0], f.Promise, f.Way)
		}
	}
	if told == 0 {
		t.Error("nothing is broken")
	}
}

// Where nothing in reach helps, that is said.
func TestBoardAdviceEnds(t *testing.T) {
	for _, f := range compileSource(t, strings.Replace(boardBroken, "LIMIT", "0.0001 dB", 1)).Findings {
		if f.Promise == "board-magnitude" && !strings.HasPrefix(f.Remedy, "nothing tried does (larger coupling capacitors, finer series, a faster op-amp and all of it together): change the filters, or allow") {
			t.Errorf("%q", f.Remedy)
		}
	}
}

func kept(found []verify.Finding, of verify.Finding) bool {
	for _, f := range found {
		if f.Promise == of.Promise && f.Way == of.Way {
			return f.Kept
		}
	}
	return false
}

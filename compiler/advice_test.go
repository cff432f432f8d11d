package compiler_test

import (
	"bytes"
	"fmt"
	"os"
	"regexp"
	"strconv"
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

// What is advised of two promises keeps both, in every choice of one piece each; what would break the other further is not advised, as
// capacitors at the outputs, which would have the filters in another order, in which they clip earlier.
func TestBoardAdviceGoesTogether(t *testing.T) {
	src, err := os.ReadFile("../specs/disc_playback.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src = append(src[:bytes.Index(src, []byte("digital:"))], "board: {MORE}\npromise: {board-spread: off, board-yield: off}\n"...)
	with := func(more string) map[string]verify.Finding {
		out := map[string]verify.Finding{}
		for _, f := range compileSource(t, strings.Replace(string(src), "MORE", more, 1)).Findings {
			out[f.Promise] = f
		}
		return out
	}
	found := with("")
	less := regexp.MustCompile(`^use an op-amp with ([\d.]+) times less offset and bias-current, or allow `).FindStringSubmatch(found["board-dc"].Remedy)
	more := regexp.MustCompile(`^board\.input\.level: (\d+ mV), or op-amps that swing (\d+) V \(board\.op-amp\.swing\) on the supply for it$`).FindStringSubmatch(found["board-headroom"].Remedy)
	if less == nil || more == nil {
		t.Fatalf("%+v", found)
	}
	times, _ := strconv.ParseFloat(less[1], 64)
	swing, _ := strconv.Atoi(more[2])
	quieter := fmt.Sprintf("offset: %.6g mV, bias-current: %.6g nA", 2/times, 100/times)
	for _, followed := range []string{"op-amp: {" + quieter + "}, input: {level: " + more[1] + "}", fmt.Sprintf("op-amp: {%s, swing: %d V}, supply: %d V", quieter, swing, swing+2)} {
		for _, f := range with(followed) {
			if !f.Kept {
				t.Errorf("%s: %+v", followed, f)
			}
		}
	}
	if f := with("output: {coupling: 15 uF}, input: {level: " + more[1] + "}")["board-headroom"]; f.Kept || f.Worst < 1 {
		t.Errorf("coupled: %+v", f)
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

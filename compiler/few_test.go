package compiler_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/language"
)

// fewPair is a spec of two ways, of which one has a switched filter, and a board.
func fewPair(promise, board string) string {
	return `bandwright: 1
name: pair
settings: {desk: [free, on-desk]}
ways:
  low: {filters: [{peak: {at: 300 Hz, q: 2, gain: -3 dB, when: {desk: on-desk}}}, {high-pass: {at: 60 Hz, q: 0.9}}]}
  high: {gain: -2 dB}
crossovers: [{between: [low, high], family: LR, order: 4, at: 1.9 kHz}]
promise: {` + promise + `}
board: {` + board + `}
`
}

func judgedFew(t *testing.T, promise, board string) *compiler.Build {
	t.Helper()
	return compiledHeld(t, fewPair(promise, board), nil, compiler.Holding{})
}

const fewPromise = "board-magnitude: 0.2 dB, sum: 0.18 dB"

var fewLaidOut *compiler.Build

// laidOutFew is the board as it is laid out without a word on few values, made once.
func laidOutFew(t *testing.T) *compiler.Build {
	t.Helper()
	if fewLaidOut == nil {
		fewLaidOut = judgedFew(t, fewPromise, "held: held.yaml")
	}
	return fewLaidOut
}

// worstOf is the worst figure of a board for a promise.
func worstOf(b *compiler.Build, promise string) float64 {
	worst := math.NaN()
	for _, f := range b.Findings {
		if f.Promise == promise && !(f.Worst <= worst) {
			worst = f.Worst
		}
	}
	return worst
}

// How few values are told to be had are had where the board is laid out, within the share of
// what is promised. What `off` lays out is the board as it was without being held.
func TestFewTriedIsTrue(t *testing.T) {
	const share = 0.8
	plain := judgedFew(t, fewPromise, "")
	n, ok := plain.FewTried(context.Background())
	exact := plain.Board.DistinctValues()
	if !ok || n >= exact || plain.FewSaid() != "" {
		t.Fatalf("%d values instead of %d: %v %q", n, exact, ok, plain.FewSaid())
	}
	b := laidOutFew(t)
	if got := b.Board.DistinctValues(); got != n {
		t.Errorf("%d values, told were %d", got, n)
	}
	if says := fmt.Sprintf("%d different values instead of %d: within 0.8 of `promise.board-magnitude` of 0.2 dB and `promise.sum` of 0.18 dB", n, exact); b.FewSaid() != says {
		t.Errorf("%q, not %q", b.FewSaid(), says)
	}
	if way, sum := worstOf(b, "board-magnitude"), worstOf(b, "sum"); !(way <= share*0.2) || !(sum <= share*0.18) {
		t.Errorf("a way is %.4f dB off, the sum %.4f dB", way, sum)
	}
	if _, again := b.FewTried(context.Background()); again {
		t.Error("tried again")
	}
	off := judgedFew(t, fewPromise, "held: held.yaml, few-values: off")
	if string(language.FormatHeld(off.Hold())) != string(language.FormatHeld(plain.Hold())) {
		t.Error("off is laid out as another board")
	}
}

// What a wish is bound by is told: the tighter one of wish and promises.
func TestWhatBindsFewValues(t *testing.T) {
	for _, c := range []struct{ promise, wish, says string }{
		{"", "0.3 dB", "not the wish of 0.3 dB binds, but `promise.board-magnitude` of 0.1 dB and `promise.sum` of 0.1 dB"},
		{"board-magnitude: 0.5 dB", "0.3 dB", "not the wish of 0.3 dB binds, but `promise.sum` of 0.1 dB"},
		{"board-magnitude: 0.5 dB, sum: off", "0.3 dB", "the wish of 0.3 dB binds, and no promise: `promise.board-magnitude` of 0.5 dB"},
		{"board-magnitude: off, sum: off", "0.3 dB", "the wish of 0.3 dB binds, as nothing is promised"},
	} {
		b := compiledHeld(t, `bandwright: 1
name: one
ways: {only: {filters: [{low-pass: {at: 900 Hz, q: 0.8}}]}}
promise: {`+c.promise+`}
board: {few-values: `+c.wish+`}
`, nil, compiler.Holding{})
		if !strings.HasSuffix(b.FewSaid(), ": "+c.says) {
			t.Errorf("%q, %s: %q, not %q", c.promise, c.wish, b.FewSaid(), c.says)
		}
		if bound := slices.ContainsFunc(b.Board.Cautions, func(s string) bool { return strings.Contains(s, "`board.few-values` is not used up") }); bound != strings.HasPrefix(c.says, "not") {
			t.Errorf("%q, %s: cautioned %v", c.promise, c.wish, bound)
		}
	}
}

// Nothing is looked for where nothing is promised of the ways, nor, without a number in the spec, what breaks a
// promise of another kind that the most exact values keep, here of the spread of boards.
func TestFewValuesBreakNothing(t *testing.T) {
	free := judgedFew(t, "board-magnitude: off, sum: off", "held: held.yaml")
	if _, ok := free.Board.Reduced(); ok {
		t.Errorf("few values of a board of which nothing is promised: %s", free.FewSaid())
	}
	plain, few := judgedFew(t, fewPromise, ""), laidOutFew(t)
	was, is := worstOf(plain, "board-spread"), worstOf(few, "board-spread")
	if !(is > was+0.002) {
		t.Fatalf("spread of %.4f dB, with few values %.4f dB", was, is)
	}
	spread := fmt.Sprintf("%s, board-yield: off, board-spread: %.5f dB", fewPromise, (was+is)/2)
	b := judgedFew(t, spread, "few-values: promise")
	if _, ok := b.Board.Reduced(); ok || b.Board.DistinctValues() != plain.Board.DistinctValues() {
		t.Errorf("%d values, with the most exact ones %d", b.Board.DistinctValues(), plain.Board.DistinctValues())
	}
	for _, f := range b.Findings {
		if !f.Kept {
			t.Errorf("%+v", f)
		}
	}
	if says := "`board.few-values` has no effect: with fewer values the board breaks a promise that is not about its response"; !strings.Contains(strings.Join(b.Board.Cautions, "\n"), says) {
		t.Errorf("%q", b.Board.Cautions)
	}
}

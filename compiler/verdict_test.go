package compiler_test

import (
	"context"
	"io/fs"
	"math"
	"os"
	"reflect"
	"regexp"
	"strconv"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/batch"
	"bandwright/compiler/language"
)

// A verdict simulates as many boards as it takes, and comes out as that on all of them:
// where the yield is far from what is promised some are enough, near it none is left out.
func TestVerdictSimulatesEnough(t *testing.T) {
	src, err := os.ReadFile("../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	promises := regexp.MustCompile(`(?m)^promise:\n(  .*\n)*`)
	verdict := func(promise string) *compiler.Build {
		b, faults, err := compiler.Verdict(context.Background(), "test.yaml", []byte(promises.ReplaceAllString(string(src), "")+"promise: {"+promise+"}\n"), os.DirFS("../specs"))
		if err != nil || b == nil || b.Batch == nil {
			t.Fatal(err, faults)
		}
		return b
	}
	whole, faults, err := compiler.Compile(context.Background(), "test.yaml", src, os.DirFS("../specs"))
	if err != nil || whole == nil {
		t.Fatal(err, faults)
	}
	share := whole.Batch.Yield().Share
	for _, c := range []struct {
		promise string
		boards  int
	}{
		{"board-yield: 50 %", 2000},
		{"board-spread: 0.2 dB, board-yield: 95 %", 2000},
		// On the edge: what all boards yield.
		{"board-yield: " + strconv.FormatFloat(math.Floor(1e4*share)/100, 'g', 6, 64) + " %", batch.Boards},
	} {
		if b := verdict(c.promise); b.Batch.Boards != c.boards {
			t.Errorf("%s: %d boards, %d expected; %v", c.promise, b.Batch.Boards, c.boards, b.Batch.Yield())
		}
	}
}

// What becomes of the promises is the same whether advice is asked for or not, and advice is what it lacks.
func TestFindingsLackAdviceAlone(t *testing.T) {
	src := []byte(`bandwright: 1
name: wren
settings: {wall: [free, near]}
ways:
  only: {filters: [{peak: {at: 14 kHz, q: 1, gain: 4 dB}}, {low-shelf: {at: 80 Hz, gain: -3 dB, when: {wall: near}}}]}
promise: {magnitude: 0.01 dB, noise: -150 dBFS}
digital: {rates: [48 kHz], formats: [float32], method: bilinear}
board: {op-amp: {gain-bandwidth: 3 MHz}}
`)
	outcome := func(compile func(context.Context, string, []byte, fs.FS) (*compiler.Build, []language.Fault, error)) (*compiler.Build, []string) {
		b, faults, err := compile(context.Background(), "wren.yaml", src, nil)
		if b == nil {
			t.Fatal(faults, err)
		}
		var advice []string
		for i := range b.Findings {
			f := &b.Findings[i]
			advice = append(advice, f.Note+f.Remedy)
			f.Note, f.Remedy = "", ""
		}
		return b, advice
	}
	whole, advice := outcome(compiler.Compile)
	bare, without := outcome(compiler.Findings)
	if !reflect.DeepEqual(whole.Findings, bare.Findings) || !reflect.DeepEqual(whole.Figures, bare.Figures) {
		t.Errorf("with advice:\n%+v\n%+v\nwithout:\n%+v\n%+v", whole.Findings, whole.Figures, bare.Findings, bare.Figures)
	}
	more := 0
	for i, text := range advice {
		if text != without[i] {
			more++
		}
	}
	if more < 3 {
		t.Errorf("advice on %d findings, want one on the magnitude and the noise of the filters, and one on the board:\n%q\n%q", more, advice, without)
	}
	if last := len(whole.Digital) - 1; whole.Digital[last].Changes == nil || bare.Digital[last].Changes != nil {
		t.Error("changes of settings are simulated by Compile, and by Compile alone")
	}
}

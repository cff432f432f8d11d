package compiler_test

import (
	"context"
	"math"
	"os"
	"regexp"
	"strconv"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/batch"
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

package compiler_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
)

// recorded are the boards on record: shipped specs, chosen anew, and odd ones of
// testdata/boards.
var recorded = []string{"heron", "dabchick", "bittern", "low_corners", "dipole_sub", "deep_notch", "shelves", "elliptic", "wide_delay"}

// largeFarad (F) is from where a film capacitor is bulky and dear.
const largeFarad = 330e-9

// recordOf is one board's row of the record.
func recordOf(t *testing.T, name string) string {
	t.Helper()
	src, err := os.ReadFile("testdata/boards/" + name + ".yaml")
	text := string(src)
	if err != nil {
		text = strings.Replace(shippedHeld(t, name), "\n  held: held.yaml", "", 1)
	}
	b, faults, err := compiler.Compile(context.Background(), name+".yaml", []byte(text), nil)
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(name, err, faults)
	}
	opAmps, large := 0, 0
	sum, largest := 0.0, 0.0
	for _, c := range b.Board.Chains() {
		for _, s := range c.Built() {
			opAmps += s.Topology.OpAmps()
		}
	}
	parts := 0
	for _, bin := range b.Board.Bins() {
		parts += len(bin.Refs)
		if bin.Kind == netlist.Capacitor {
			sum += bin.Value * float64(len(bin.Refs))
			largest = math.Max(largest, bin.Value)
			if bin.Value >= largeFarad {
				large += len(bin.Refs)
			}
		}
	}
	row := fmt.Sprintf("%-12s %8d %7d %8d %9.2f %9d %11.0f", name, opAmps, parts, b.Board.DistinctValues(), sum*1e6, large, largest*1e9)
	var noise []string
	dc, worst := 0.0, 0.0
	for _, f := range b.Figures {
		if f.Realisation != "board" || f.Way == verify.SumName {
			continue
		}
		noise = append(noise, fmt.Sprintf("%.1f", verify.DBu(f.NoiseV.Value)))
		dc = math.Max(dc, math.Abs(f.OffsetV.Value))
		worst = math.Max(worst, math.Abs(f.Magnitude.Value))
	}
	row += fmt.Sprintf(" %-28s %6.1f %9.3f", strings.Join(noise, " "), dc*1e3, worst)
	for _, y := range b.Batch.Plain {
		if y.LimitDB == 1 {
			row += fmt.Sprintf(" %7.2f", 100*y.Share)
			break
		}
	}
	return row
}

// The record of boards: what a choice of topologies and values costs, that worse is seen
// and better is written down.
func TestBoardRecord(t *testing.T) {
	rows := []string{fmt.Sprintf("%-12s %8s %7s %8s %9s %9s %11s %-28s %6s %9s %7s", "board", "op-amps", "parts", "values", "sum of uF", ">= 330 nF", "largest, nF", "noise of ways, dBu", "DC, mV", "error, dB", "yield %")}
	for _, name := range recorded {
		rows = append(rows, recordOf(t, name))
	}
	text := strings.Join(rows, "\n") + "\n"
	const golden = "testdata/boards/record.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if text != string(want) {
		t.Errorf("the boards are\n%s\non record is\n%s", text, want)
	}
}

package kicad_test

import (
	"bytes"
	"fmt"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit/circuittest"
)

// drawingIsBoard is the relative agreement that is expected of a simulation of the
// drawing, downTo below each way's peak; withJunctions where there are diodes or
// transistors, which leak a little in ngspice.
const (
	drawingIsBoard = 1e-9
	withJunctions  = 1e-7
	downTo         = 1e-3 // 60 dB
)

// What the suite exports for SPICE has, in ngspice, every way's response, in the default
// setting and with every selector at its last position.
func TestSimulationOfTheDrawing(t *testing.T) {
	for _, name := range []string{"dabchick", "heron", "two_settings", "odd_names", "relays", "transistors"} {
		b, folder := emitted(t, name)
		if out, ok := run(t, folder, "sch", "export", "netlist", "--format", "spice", "-o", "out.cir", name+".kicad_sch"); !ok {
			t.Fatal(out)
		}
		data, err := os.ReadFile(filepath.Join(folder, "out.cir"))
		if err != nil {
			t.Fatal(err)
		}
		last := make(biquad.Combination, len(b.Settings))
		for i, s := range b.Settings {
			last[i] = uint8(len(s.Choices) - 1)
		}
		agrees(t, b, string(data), folder, make(biquad.Combination, len(b.Settings)))
		if len(b.Settings) > 0 {
			agrees(t, b, string(data), folder, last)
		}
		if b.Board.MuteV() != 0 {
			muted(t, b, string(data), folder)
		}
	}
}

// muted demands that outputs are 60 dB down where nothing comes from the mutes' control.
func muted(t *testing.T, b *compiler.Build, deck, folder string) {
	t.Helper()
	file := filepath.Join(folder, b.Spec.Name+".lib")
	models, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	off := strings.Replace(string(models), fmt.Sprintf("V1 pin1 0 DC %g\n.ends\n.subckt op", b.Board.MuteV()), "V1 pin1 0 DC 0\n.ends\n.subckt op", 1)
	if err := os.WriteFile(file, []byte(off), 0o600); err != nil || off == string(models) {
		t.Fatal(err, off)
	}
	nodes, lines := outputs(t, b, deck, make(biquad.Combination, len(b.Settings)))
	plot := simulate(t, withAnalysis(b, lines), folder)
	for w := range b.Board.Ways {
		for k, v := range plot.Of(nodes[w]) {
			if cmplx.Abs(v) > 1e-3 {
				t.Fatalf("%s: %g at the output of %s at %g Hz, muted", b.Spec.Name, cmplx.Abs(v), b.Board.Ways[w].Name, plot.Scale[k])
			}
		}
	}
}

// withAnalysis is a deck that sweeps the band.
func withAnalysis(b *compiler.Build, lines []string) string {
	return strings.Replace(strings.Join(lines, "\n"), ".end\n", fmt.Sprintf(".ac dec 20 %g %g\n.end\n", b.Promises.LowHz, b.Promises.HighHz), 1)
}

// agrees simulates an exported deck with the selectors where a combination has them.
func agrees(t *testing.T, b *compiler.Build, deck, folder string, c biquad.Combination) {
	t.Helper()
	nodes, lines := outputs(t, b, deck, c)
	plot := simulate(t, withAnalysis(b, lines), folder)
	limit := drawingIsBoard
	if b.Board.MuteV() != 0 || b.Spec.Board.Input.Clamped {
		limit = withJunctions
	}
	hz := plot.Scale
	if len(hz) < 50 {
		t.Fatalf("%s: %d points", b.Spec.Name, len(hz))
	}
	for w := range b.Board.Ways {
		own := make([]complex128, len(hz))
		b.Board.On(hz).Response(own, w, c)
		drawn := plot.Of(nodes[w])
		if drawn == nil {
			t.Fatalf("%s: ngspice has no node %s among %v", b.Spec.Name, nodes[w], plot.Names)
		}
		peak, worst, judged := 0.0, 0.0, 0
		for _, x := range own {
			peak = max(peak, cmplx.Abs(x))
		}
		for k := range hz {
			if cmplx.Abs(own[k]) > downTo*peak {
				worst = max(worst, cmplx.Abs(drawn[k]/own[k]-1))
				judged++
			}
		}
		if worst > limit || judged < len(hz)/4 {
			t.Errorf("%s, way %s, setting %v: the drawing differs from the board by %.2g at %d frequencies", b.Spec.Name, b.Board.Ways[w].Name, c, worst, judged)
		}
		t.Logf("%s, way %s, setting %v: %.1e", b.Spec.Name, b.Board.Ways[w].Name, c, worst)
	}
}

// outputs finds the node of each way's output, where its load is, and sets the selectors.
func outputs(t *testing.T, b *compiler.Build, deck string, c biquad.Combination) (nodes, lines []string) {
	t.Helper()
	nodes = make([]string, len(b.Board.Ways))
	position := map[string]int{}
	for _, chain := range b.Board.Chains() {
		for _, p := range chain.Positions {
			if p.Selector == "" {
				continue
			}
			k := 0
			for _, ax := range p.By { // the combination that the selector's position stands for
				k = k*ax.Choices + int(c[ax.Setting])
			}
			position["X"+strings.TrimRight(p.Selector, "ABCDEFGHIJ")] = k + 1
		}
	}
	set := 0
	for line := range strings.Lines(deck) {
		words := strings.Fields(line)
		if len(words) > 0 {
			for w := range b.Board.Ways {
				for _, e := range b.Board.Ways[w].Ends {
					if e.Use == board.Load && e.Ref == words[0] {
						nodes[w] = strings.ToLower(words[1])
						if nodes[w] == "gnd" {
							nodes[w] = strings.ToLower(words[2])
						}
					}
				}
			}
			if k, is := position[words[0]]; is {
				words[len(words)-1] = fmt.Sprintf("position=%d", k)
				line = strings.Join(words, " ")
				set++
			}
		}
		lines = append(lines, strings.TrimRight(line, "\n"))
	}
	if set != len(position) {
		t.Errorf("%s: %d selectors, want %d", b.Spec.Name, set, len(position))
	}
	return nodes, append(lines, "")
}

func simulate(t *testing.T, deck, folder string) circuittest.Plot {
	t.Helper()
	tool, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package `ngspice` (apt-get install -y ngspice)")
	}
	file, raw := filepath.Join(folder, "run.cir"), filepath.Join(folder, "run.raw")
	if err := os.WriteFile(file, []byte(deck), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(tool, "-b", "-r", raw, file)
	cmd.Dir, cmd.Env = folder, append(os.Environ(), "SPICE_ASCIIRAWFILE=1")
	out, err := cmd.CombinedOutput()
	if err != nil || bytes.Contains(bytes.ToLower(out), []byte("error")) {
		t.Fatalf("ngspice: %v\n%s", err, out)
	}
	data, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	plots, err := circuittest.ReadRaw(data)
	if err != nil {
		t.Fatal(err)
	}
	return plots[0]
}

package netlist_test

import (
	"bytes"
	"context"
	"fmt"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/circuit/circuittest"
	"bandwright/targets/netlist"
)

const (
	// boardIsSpice is the relative agreement expected of every way of a whole
	// board, downTo below its peak (linear): further down the relative error is
	// that of differences of what leaks past the op-amps.
	boardIsSpice = 1e-9
	downTo       = 1e-4 // 80 dB
	// withJunctions is what is expected of one with diodes and transistors: ngspice has
	// 1e-12 S across each junction, and finds gates' capacitance at the output's own DC.
	withJunctions = 1e-7
)

// twoSettings has a position that two settings pick, four op-amps a package and a
// source that the input stage need not be guarded from.
const twoSettings = `bandwright: 1
name: two_settings
settings: {room-size: [small, large], floor: [wood, stone, carpet]}
ways:
  low-end:
    filters:
      - low-shelf: {at: 100 Hz, gain: 3 dB, order: 1, when: {room-size: large, floor: [wood, carpet]}}
      - low-shelf: {at: 100 Hz, gain: 5 dB, order: 1, when: {room-size: small}}
  high-end: {polarity: inverted}
crossovers:
  - {between: [low-end, high-end], family: LR, order: 2, at: 900 Hz}
digital: {rates: [48 kHz], formats: [float32]}
board:
  input: {balanced: true, source-impedance: 0 ohm}
  op-amp: {per-package: 4, output-resistance: 0}
`

// builds are those of the specs that tests have asked for, by name: each is
// compiled once, and read only.
var builds = map[string]*compiler.Build{}

func compile(t testing.TB, name string) *compiler.Build {
	t.Helper()
	if b := builds[name]; b != nil {
		return b
	}
	src := map[string][]byte{"two_settings": []byte(twoSettings), "wren": []byte(wren), "dunlin": []byte(dunlin), "linnet": []byte(linnet)}[name]
	if src == nil {
		var err error
		folder := "../../specs/"
		if name == "switched" || name == "pairs" || name == "tones" {
			folder = "../../compiler/board/testdata/"
		}
		if src, err = os.ReadFile(folder + name + ".yaml"); err != nil {
			t.Fatal(err)
		}
	}
	b, faults, err := compiler.Compile(context.Background(), name, src, os.DirFS("../../specs"))
	if err != nil || b == nil || b.Board == nil {
		t.Fatal(name, err, faults)
	}
	builds[name] = b
	return b
}

// some are the default and a few other combinations of a spec's settings: each
// choice at least once.
func some(b *compiler.Build) []biquad.Combination {
	most := 0
	for _, s := range b.Settings {
		most = max(most, len(s.Choices))
	}
	var out []biquad.Combination
	for k := range most {
		c := make(biquad.Combination, len(b.Settings))
		for i, s := range b.Settings {
			c[i] = uint8(min(k, len(s.Choices)-1))
		}
		out = append(out, c)
	}
	return out
}

// The emitted file, run by ngspice as it stands but for the parameters, is what
// the findings were computed from.
func TestNgspiceAgrees(t *testing.T) {
	for _, name := range []string{"heron", "dabchick", "bittern", "siskin", "two_settings", "wren", "dunlin", "linnet", "pairs", "tones"} {
		b := compile(t, name)
		agrees(t, name, b, some(b))
	}
}

// A trim of nine steps, six switched cuts and two switched shelves: ngspice finds every
// choice of every setting as it is promised.
func TestNgspiceAgreesOnEverySetting(t *testing.T) {
	b := compile(t, "switched")
	all := []biquad.Combination{make(biquad.Combination, len(b.Settings))}
	for i, s := range b.Settings {
		for k := 1; k < len(s.Choices); k++ {
			c := make(biquad.Combination, len(b.Settings))
			c[i] = uint8(k)
			all = append(all, c)
		}
	}
	if len(all) != 1+8+8 {
		t.Errorf("%d combinations", len(all))
	}
	agrees(t, "switched", b, all)
}

// agrees runs the netlist of a board in ngspice and compares its responses with nodal
// analysis, and with the prototype within what is promised.
func agrees(t *testing.T, name string, b *compiler.Build, combinations []biquad.Combination) {
	t.Helper()
	files, err := netlist.Emit(b)
	if err != nil || len(files) != 1 {
		t.Fatal(err)
	}
	if want := "board/" + name + ".cir"; files[0].Name != want {
		t.Errorf("the file is called %s, want %s", files[0].Name, want)
	}
	for _, c := range combinations {
		deck := string(files[0].Data)
		for i, s := range b.Settings {
			p := "set_" + strings.ReplaceAll(s.Name, "-", "_") + "="
			if strings.Count(deck, p+"0\n") != 1 {
				t.Fatalf("%s: no parameter %s", name, p)
			}
			deck = strings.Replace(deck, p+"0\n", fmt.Sprintf("%s%d\n", p, c[i]), 1)
		}
		hz, v := simulate(t, deck, b)
		worst, judged := 0.0, 0
		for w := range b.Board.Ways {
			own := make([]complex128, len(hz))
			b.Board.On(hz).Response(own, w, c)
			ideal := make([]complex128, len(hz))
			b.Subject().Prototype.On(hz).Response(ideal, w, c)
			peak := 0.0
			for _, x := range own {
				peak = max(peak, cmplx.Abs(x))
			}
			for k := range hz {
				if cmplx.Abs(own[k]) < downTo*peak {
					continue
				}
				judged++
				worst = max(worst, cmplx.Abs(own[k]/v[w][k]-1))
				if e := biquad.DB(v[w][k] / ideal[k]); cmplx.Abs(ideal[k]) > 0.01*peak && (e > 0.1 || e < -0.1) {
					t.Errorf("%s %v: ngspice finds %s %.3g dB off the prototype at %g Hz, and the findings keep 0.1 dB", name, c, b.Board.Ways[w].Name, e, hz[k])
				}
			}
		}
		t.Logf("%s %v: %d points of %d ways, worst difference %.1e", name, c, judged, len(v), worst)
		limit := boardIsSpice
		if strings.Contains(deck, " clamp\n") {
			limit = withJunctions
		}
		if worst > limit {
			t.Errorf("%s %v: nodal analysis and ngspice differ by %.1e", name, c, worst)
		}
		if judged < len(hz)*len(v)/4 {
			t.Errorf("%s %v: only %d points were judged", name, c, judged)
		}
	}
}

// heldEdits are edits of specs whose boards are held.
var heldEdits = [...][3]string{
	{"heron", "between: [bass, mid], family: LR, order: 4, at: 260 Hz", "between: [bass, mid], family: LR, order: 4, at: 262.6 Hz"},
	{"heron", "at: 92 Hz, q: 2.2, gain: -2.5 dB", "at: 92 Hz, q: 2.2, gain: -3 dB"},
	{"heron", "to: {at: 34 Hz, q: 0.65}", "to: {at: 32 Hz, q: 0.7}"},
	{"heron", "dipole-lift: {from: 500 Hz, to: 190 Hz}", "dipole-lift: {from: 520 Hz, to: 190 Hz}"},
	{"heron", "      - peak: {at: 92 Hz", "      - peak: {at: 150 Hz, q: 2, gain: -1 dB}\n      - peak: {at: 92 Hz"},
	{"heron", "      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}\n", ""},
	{"heron", "gain: -4 dB\n", "gain: -4.5 dB\n"},
	{"heron", "delay: 0.09 ms", "delay: 0.095 ms"},
	{"bittern", "at: 1.05 kHz, q: 1.8, gain: -1.8 dB", "at: 1.1 kHz, q: 1.8, gain: -1.8 dB"},
	{"bittern", "at: 145 Hz, q: 2.5, gain: -2 dB", "at: 145 Hz, q: 2.5, gain: -2.6 dB"},
}

// After an edit the parts of a held board that changed and those that stayed are, in
// ngspice, still what was promised.
func TestNgspiceAgreesOnHeldBoards(t *testing.T) {
	for _, e := range heldEdits {
		src, err := os.ReadFile("../../specs/" + e[0] + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Replace(string(src), e[1], e[2], 1)
		b, faults, err := compiler.Compile(context.Background(), e[0], []byte(text), os.DirFS("../../specs"))
		if err != nil || b == nil || b.Board == nil || text == string(src) {
			t.Fatal(e[1], err, faults)
		}
		if k := b.Board.Kept; k == nil || k.Count() == 0 {
			t.Errorf("%s: nothing held changed", e[1])
		}
		all := some(b)
		agrees(t, e[0], b, all[len(all)-1:])
	}
}

// Run as it stands, without options, ngspice prints every way's response.
func TestNgspicePrints(t *testing.T) {
	tool, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package `ngspice` (apt-get install -y ngspice)")
	}
	b := compile(t, "heron")
	files, err := netlist.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "heron.cir")
	if err := os.WriteFile(file, files[0].Data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-b", file).CombinedOutput()
	if err != nil || bytes.Contains(bytes.ToLower(out), []byte("error")) {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, w := range b.Board.Ways {
		if !bytes.Contains(out, []byte("vdb("+w.Out+")")) {
			t.Errorf("nothing printed of %s in\n%s", w.Out, out)
		}
	}
}

// simulate runs a deck in batch mode and reads the outputs.
func simulate(t *testing.T, deck string, b *compiler.Build) (hz []float64, v [][]complex128) {
	t.Helper()
	return read(t, ngspice(t, deck), b)
}

// ngspice runs a deck in batch mode and returns the raw file that it writes.
func ngspice(t *testing.T, deck string) []byte {
	t.Helper()
	tool, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing: install the Debian package `ngspice` (apt-get install -y ngspice)")
	}
	dir := t.TempDir()
	file, raw := filepath.Join(dir, "board.cir"), filepath.Join(dir, "board.raw")
	if err := os.WriteFile(file, []byte(deck), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(tool, "-b", "-r", raw, file)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), "SPICE_ASCIIRAWFILE=1")
	out, err := cmd.CombinedOutput()
	if err != nil || bytes.Contains(bytes.ToLower(out), []byte("error")) {
		t.Fatalf("ngspice: %v\n%s", err, out)
	}
	data, err := os.ReadFile(raw)
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return data
}

// read takes the response of every way out of a raw file.
func read(t *testing.T, data []byte, b *compiler.Build) (hz []float64, v [][]complex128) {
	t.Helper()
	plots, err := circuittest.ReadRaw(data)
	if err != nil {
		t.Fatal(err)
	}
	for _, way := range b.Board.Ways {
		of := plots[0].Of(way.Out)
		if of == nil {
			t.Fatalf("ngspice has no node %s", way.Out)
		}
		v = append(v, of)
	}
	if hz = plots[0].Scale; len(hz) < 50 {
		t.Fatalf("%d points", len(hz))
	}
	return hz, v
}

package explain

import (
	"flag"
	"fmt"
	"math/rand"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/circuit"
	"bandwright/compiler/prototype"
)

var update = flag.Bool("update", false, "write the golden")

const small = `bandwright: 1
name: test
settings: {room: [live, dead]}
common:
  - high-pass: {at: 30 Hz, q: 0.7071}
ways:
  bass:
    filters:
      - peak: {at: 92 Hz, q: 12, gain: 6 dB}
      - gain: {by: -2 dB, when: {room: dead}}
      - roots: {zeros: [{at: 400 Hz, side: right}], poles: [300 Hz, 900 Hz], unity-at: 0 Hz}
    polarity: inverted
  treble:
    delay: 0.05 ms
crossovers:
  - {between: [bass, treble], family: LR, order: 2, at: 2 kHz}
digital: {rates: [48 kHz], formats: [float32]}
board: {resistors: {shunt-from: 150 ohm}}
`

// The text as a whole: read the difference before it is kept.
func TestBoardText(t *testing.T) {
	text, err := Board(build(t, small), "")
	if err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/board.txt"
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
		t.Errorf("got\n%s\nwant\n%s", text, want)
	}
}

func TestBoardOfOneWay(t *testing.T) {
	b := build(t, small)
	text, err := Board(b, "treble")
	if err != nil || !strings.Contains(text, "\nway treble\n") || strings.Contains(text, "\nway bass\n") || !strings.Contains(text, "\ncommon, before") {
		t.Errorf("not the common filters and one way: %v\n%s", err, text)
	}
	if _, err := Board(b, "tweeter"); err == nil || !strings.Contains(err.Error(), "bass and treble") {
		t.Errorf("an unknown way: %v", err)
	}
	if _, err := Board(build(t, shipped(t, "pipit")), ""); err == nil || !strings.Contains(err.Error(), "add `board: {}`") {
		t.Errorf("a spec without a board: %v", err)
	}
}

// A line holds the whole width and no more, for every good spec with a board.
func TestBoardLinesFit(t *testing.T) {
	for _, path := range []string{"../../specs/heron.yaml", "../../compiler/testdata/good/every_kind.yaml", "../../compiler/testdata/good/every_board_key.yaml"} {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		text, err := Board(build(t, string(src)), "")
		if err != nil {
			t.Fatal(path, err)
		}
		for _, l := range strings.Split(text, "\n") {
			if utf8.RuneCountInString(l) > width {
				t.Errorf("%s: %d columns: %s", path, utf8.RuneCountInString(l), l)
			}
		}
	}
}

// usual are filters as loudspeakers ask for them, one or more of each kind.
var usual = map[string][]string{
	"low-pass":    {"{family: LR, order: 4, at: 2 kHz}", "{family: elliptic, order: 5, ripple: 0.1 dB, stop: 50 dB, at: 300 Hz}"},
	"high-pass":   {"{family: butterworth, order: 3, at: 80 Hz}"},
	"band-pass":   {"{at: 300 Hz, q: 2}"},
	"notch":       {"{at: 650 Hz, q: 3}", "{at: 650 Hz, q: 3, depth: 12 dB}"},
	"all-pass":    {"{at: 700 Hz, order: 1}", "{at: 700 Hz, q: 0.6}"},
	"peak":        {"{at: 92 Hz, q: 2.2, gain: -2.5 dB}", "{at: 3.2 kHz, q: 4, gain: 4 dB}"},
	"low-shelf":   {"{at: 210 Hz, gain: -3 dB, q: 0.7}", "{at: 210 Hz, gain: 6 dB, order: 1}"},
	"high-shelf":  {"{at: 7 kHz, gain: 1.2 dB, q: 0.7}", "{at: 6 kHz, gain: -3 dB, order: 1}"},
	"pole-shift":  {"{from: {at: 55.8 Hz, q: 0.81}, to: {at: 34 Hz, q: 0.65}}"},
	"dipole-lift": {"{from: 500 Hz, to: 190 Hz}"},
	"rational":    {"{at: 500 Hz, numerator: [1, 0.4, 2], denominator: [1, 1.1, 1]}"},
	"roots":       {"{zeros: [{at: 900 Hz, q: 0.8, side: right}], poles: [{at: 300 Hz, q: 0.8}], unity-at: 0 Hz}"},
	"gain":        {"{by: -1.5 dB}", "{by: 4 dB}"},
	"delay":       {"{by: 31 mm}"},
}

// Every kind has a stage, and the text never says that a section has none.
func TestEveryKindHasCandidates(t *testing.T) {
	for _, k := range prototype.Kinds {
		if len(usual[k.Name]) == 0 {
			t.Errorf("kind %s has no filter here", k.Name)
		}
		for _, args := range usual[k.Name] {
			text, err := Board(build(t, "bandwright: 1\nname: test\nways: {only: {filters: [{"+k.Name+": "+args+"}]}}\n"+
				"digital: {rates: [96 kHz], formats: [float32]}\npromise: {magnitude: off, sum: off, phase: 5 deg, headroom: off, board-magnitude: off}\nboard: {}\n"), "")
			switch {
			case err != nil:
				t.Errorf("%s %s: %v", k.Name, args, err)
			case !strings.Contains(text, " op-amp") || !strings.Contains(text, "kohm") && !strings.Contains(text, "no parts"):
				t.Errorf("%s %s has no stage in\n%s", k.Name, args, text)
			case strings.Contains(text, "no topology applies"), strings.Contains(text, "cannot be built:"), strings.Contains(text, "nothing to build"):
				t.Errorf("%s %s: a section has no stage in\n%s", k.Name, args, text)
			}
		}
	}
}

// Of each topology of a section's shape the text says that it applies or why
// not, whatever the section.
func TestEveryTopologyIsAccountedFor(t *testing.T) {
	b := build(t, small)
	r := rand.New(rand.NewSource(1))
	for range 60 {
		s := biquad.Analog{W0: 20 + 60000*r.Float64(), A: [3]float64{1, 0.02 + 2*r.Float64(), 1}}
		switch r.Intn(4) {
		case 0:
			s.B[2] = 1
		case 1:
			s.B = [3]float64{1, 0.3 + 3*r.Float64(), 1}
		case 2:
			s.B = [3]float64{1, 0, 0}
		default:
			s.B = [3]float64{1 + 3*r.Float64(), 1, 1}
		}
		e := &stages{explainer: explainer{b: b}, means: compiler.Means(b.Spec.Board)}
		e.candidates(s)
		text := strings.Join(strings.Fields(e.out.String()), " ")
		for _, p := range circuit.Candidates(s, e.means) {
			if named := strings.Contains(" "+text, " "+p.Topology.Name+":"); p.Applies && !named {
				t.Errorf("%s applies and is missing in\n%s", p.Topology.Name, e.out.String())
			} else if !p.Applies && p.Topology.Can(p.Asked.Shape) && !p.Topology.Balanced {
				if reason := strings.Join(strings.Fields(p.Reason), " "); !strings.Contains(text, reason) {
					t.Errorf("%s: %q is missing in\n%s", p.Topology.Name, reason, e.out.String())
				}
			}
		}
	}
}

// What is told of few values is what the spec then has.
func TestFewValuesTold(t *testing.T) {
	spec := func(more string) string {
		return "bandwright: 1\nname: test\nways:\n  low: {filters: [{peak: {at: 300 Hz, q: 2, gain: -3 dB}}, {high-pass: {at: 60 Hz, q: 0.9}}]}\n  high: {gain: -2 dB}\n" +
			"crossovers: [{between: [low, high], family: LR, order: 4, at: 1.9 kHz}]\npromise: {board-magnitude: 0.2 dB, sum: 0.2 dB}\nboard: {" + more + "}\n"
	}
	told := func(more string) (string, *compiler.Build) {
		b := build(t, spec(more))
		text, err := Board(b, "")
		if err != nil {
			t.Fatal(err)
		}
		_, text, _ = strings.Cut(text, "\ndifferent values of resistors and capacitors in stages\n")
		text, _, _ = strings.Cut(text, "\n\n")
		return strings.Join(strings.Fields(text), " "), b
	}
	text, plain := told("")
	var n, few, instead int
	if _, err := fmt.Sscanf(text, "%d different values tried: with `few-values: promise` in `board` %d instead of %d", &n, &few, &instead); err != nil || n != plain.Board.DistinctValues() || instead != n || few >= n {
		t.Fatalf("%q: %v", text, err)
	}
	followed, b := told("few-values: promise")
	if b.Board.DistinctValues() != few || !strings.HasPrefix(followed, fmt.Sprintf("%d different values instead of %d: within 0.8 of ", few, n)) {
		t.Errorf("told %d, has %d: %q", few, b.Board.DistinctValues(), followed)
	}
}

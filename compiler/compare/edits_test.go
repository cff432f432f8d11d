package compare

import (
	"context"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/result"
)

var update = flag.Bool("update", false, "write the goldens")

// plover is the spec that the edits below change.
func plover(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile("testdata/plover.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// accepted is what a spec is accepted as; not to be changed.
func accepted(t *testing.T, src string) *result.Accepted {
	t.Helper()
	if a := results[src]; a != nil {
		return a
	}
	results[src] = result.Accept(built(t, src))
	return results[src]
}

// built is what a spec gives, without what no accepted result holds: clicks of settings, and more boards of a batch
// than the verdict on it takes.
func built(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Verdict(context.Background(), "plover.yaml", []byte(src), nil)
	if b == nil {
		t.Fatal(faults, err)
	}
	return b
}

// results are those of specs that were accepted, each compiled once.
var results = map[string]*result.Accepted{}

// replaced is the spec with pairs of texts replaced, each of which must be there
// once.
func replaced(t *testing.T, src string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if strings.Count(src, pairs[i]) != 1 {
			t.Fatalf("%q is there %d times", pairs[i], strings.Count(src, pairs[i]))
		}
		src = strings.Replace(src, pairs[i], pairs[i+1], 1)
	}
	return src
}

// TestEdits holds what is said of every edit to testdata/edits.txt, which
// shows the edit, the exit code that it gives, and all sentences.
func TestEdits(t *testing.T) {
	src := plover(t)
	was := accepted(t, src)
	var out strings.Builder
	seen := map[string]bool{}
	for _, e := range specEdits {
		if seen[e.what] {
			t.Errorf("two edits are called %q", e.what)
		}
		seen[e.what] = true
		c := Results(was, accepted(t, replaced(t, src, e.replace...)))
		show(&out, e.what, e.replace, c)
		if c.Regression != e.regression {
			t.Errorf("%s: regression %v", e.what, c.Regression)
		}
	}
	golden(t, "testdata/edits.txt", out.String())
	if len(specEdits) < 30 {
		t.Errorf("%d edits", len(specEdits))
	}
}

// show writes an edit, the exit code that it gives, and all sentences.
func show(out *strings.Builder, what string, replace []string, c *Comparison) {
	fmt.Fprintf(out, "# %s\n", what)
	for i := 0; i < len(replace); i += 2 {
		out.WriteString(marked("-", replace[i]) + marked("+", replace[i+1]))
	}
	fmt.Fprintf(out, "exit %d\n%s\n", exitCode(c), c.Text(1000))
}

// golden holds what is said of edits to a file, edit by edit.
func golden(t *testing.T, path, said string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(said), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	is, must := strings.Split(said, "\n\n"), strings.Split(string(want), "\n\n")
	for i := range max(len(is), len(must)) {
		switch {
		case i >= len(must):
			t.Errorf("not in %s:\n%s", path, is[i])
		case i >= len(is):
			t.Errorf("no edit gives:\n%s", must[i])
		case is[i] != must[i]:
			t.Errorf("got\n%s\nwant\n%s", is[i], must[i])
		}
	}
}

// marked are the lines of a text behind a sign.
func marked(sign, text string) string {
	if text == "" {
		return ""
	}
	return sign + " " + strings.ReplaceAll(strings.TrimSuffix(text, "\n"), "\n", "\n"+sign+" ") + "\n"
}

type specEdit struct {
	what       string
	regression bool
	replace    []string
	// parts are what each changed line does to the model of the spec, by the
	// path that sentences name; nil where the edit is no simple retune.
	parts map[string]func(*model)
}

var specEdits = []specEdit{
	{"retune the lower crossover", true, []string{"at: 260 Hz", "at: 252 Hz"}, map[string]func(*model){
		"crossovers[0].at": func(m *model) { m.lower = 252 },
	}},
	{"retune the upper crossover", true, []string{"at: 2.5 kHz", "at: 2.6 kHz"}, map[string]func(*model){
		"crossovers[1].at": func(m *model) { m.upper = 2600 },
	}},
	{"raise a crossover's order", true, []string{"order: 4, at: 2.5 kHz", "order: 8, at: 2.5 kHz"}, nil},
	{"another family and order, neither possible without the other", true, []string{"family: LR, order: 4, at: 260 Hz", "family: butterworth, order: 3, at: 260 Hz"}, nil},
	{"only one side of a crossover", true, []string{"{between: [bass, mid], family: LR, order: 4, at: 260 Hz}", "{between: [bass, mid], low: {family: LR, order: 4, at: 250 Hz}, high: {family: LR, order: 4, at: 260 Hz}}"}, map[string]func(*model){
		"crossovers[0].low.at": func(m *model) { m.lowerLow = 250 },
	}},
	{"move a peak", true, []string{"at: 92 Hz", "at: 95 Hz"}, map[string]func(*model){
		"ways.bass.filters[1].at": func(m *model) { m.peakAt = 95 },
	}},
	{"narrow a peak", true, []string{"q: 2.2", "q: 2.4"}, map[string]func(*model){
		"ways.bass.filters[1].q": func(m *model) { m.peakQ = 2.4 },
	}},
	{"deepen a peak", true, []string{"gain: -2.5 dB", "gain: -3 dB"}, map[string]func(*model){
		"ways.bass.filters[1].gain": func(m *model) { m.peakDB = -3 },
	}},
	{"remove a filter", true, []string{"      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}\n", ""}, map[string]func(*model){
		"ways.bass.filters[1]": func(m *model) { m.peakDB = 0 },
	}},
	{"add a notch", true, []string{"gain: -2.5 dB}\n", "gain: -2.5 dB}\n      - notch: {at: 180 Hz, q: 8}\n"}, nil},
	{"add a filter before the others", true, []string{"      - pole-shift", "      - peak: {at: 150 Hz, q: 1, gain: 1 dB}\n      - pole-shift"}, map[string]func(*model){
		"ways.bass.filters[0]": func(m *model) { m.extraDB = 1 },
	}},
	{"another kind of filter in place of one", true, []string{"peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}", "high-shelf: {at: 92 Hz, q: 0.7, gain: -1 dB}"}, nil},
	{"filters of a way in another order", false, []string{"      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}\n      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}", "      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}\n      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}"}, nil},
	{"retune the box's compensation", true, []string{"to: {at: 40 Hz", "to: {at: 38 Hz"}, map[string]func(*model){
		"ways.bass.filters[0].to.at": func(m *model) { m.boxTo = 38 },
	}},
	{"change a gain", true, []string{"gain: -4 dB", "gain: -4.2 dB"}, map[string]func(*model){
		"ways.bass.gain": func(m *model) { m.bassDB = -4.2 },
	}},
	{"change a gain within the tolerance", false, []string{"gain: -4 dB", "gain: -4.02 dB"}, map[string]func(*model){
		"ways.bass.gain": func(m *model) { m.bassDB = -4.02 },
	}},
	{"turn a way", true, []string{"gain: -1.5 dB", "gain: -1.5 dB\n    polarity: inverted"}, map[string]func(*model){
		"ways.treble.polarity": func(m *model) { m.treble = -1 },
	}},
	{"delay a way further", true, []string{"delay: 0.1 ms", "delay: 0.13 ms"}, map[string]func(*model){
		"ways.treble.delay": func(m *model) { m.lateS = 0.13e-3 },
	}},
	{"remove a delay", true, []string{"    delay: 0.1 ms\n", ""}, map[string]func(*model){
		"ways.treble.delay": func(m *model) { m.lateS = 0 },
	}},
	{"retune a common filter", true, []string{"at: 25 Hz", "at: 30 Hz"}, map[string]func(*model){
		"common[0].at": func(m *model) { m.highPass = 30 },
	}},
	{"change a filter under a setting", true, []string{"gain: -3 dB, q: 0.7, when: {placement: wall}", "gain: -4 dB, q: 0.7, when: {placement: wall}"}, map[string]func(*model){
		"common[1].gain": func(m *model) { m.wallDB = -4 },
	}},
	{"move a filter to another choice", true, []string{"when: {placement: wall}", "when: {placement: free}"}, nil},
	{"change a gain under a setting", true, []string{"by: -1 dB, when", "by: -2 dB, when"}, map[string]func(*model){
		"ways.treble.filters[0].by": func(m *model) { m.trimDB = -2 },
	}},
	{"a new choice", false, []string{"[free, wall]", "[free, wall, corner]"}, nil},
	{"another default", true, []string{"[free, wall]", "[wall, free]"}, nil},
	{"remove a setting", true, []string{"  trim: [0 dB, -1 dB]\n", "", "      - gain: {by: -1 dB, when: {trim: -1 dB}}\n", "      - gain: {by: -1 dB}\n"}, nil},
	{"another name for a setting, with a filter of it", true, []string{"  trim: [0 dB, -1 dB]\n", "  air: [0 dB, -1 dB]\n", "by: -1 dB, when: {trim: -1 dB}", "by: -2 dB, when: {air: -1 dB}"}, nil},
	{"other names for a setting and one of its choices", true, []string{"  trim: [0 dB, -1 dB]\n", "  air: [0 dB, less]\n", "when: {trim: -1 dB}", "when: {air: less}"}, nil},
	{"another name for the default", true, []string{"  trim: [0 dB, -1 dB]\n", "  trim: [full, -1 dB]\n"}, nil},
	{"add a setting with its filter", false, []string{"  trim: [0 dB, -1 dB]\n", "  trim: [0 dB, -1 dB]\n  grille: [none, woven]\n", "trim: -1 dB}}\n", "trim: -1 dB}}\n      - high-shelf: {at: 7 kHz, gain: 1 dB, q: 0.7, when: {grille: woven}}\n"}, nil},
	{"add a rate", false, []string{"[96 kHz]", "[96 kHz, 48 kHz]"}, nil},
	{"change the rate", true, []string{"[96 kHz]", "[48 kHz]"}, nil},
	{"change the format", true, []string{"[float32]", "[float64]"}, nil},
	{"another method", true, []string{"method: bilinear", "method: magnitude-matched"}, nil},
	{"headroom at the input", true, []string{"method: bilinear", "method: bilinear\n  headroom: 3 dB"}, nil},
	{"a promise that does not hold", true, []string{"magnitude: 60 dB", "magnitude: 0.01 dB"}, nil},
	{"a weaker promise", true, []string{"magnitude: 60 dB", "magnitude: 80 dB"}, nil},
	{"wider tolerances, and a change", true, []string{"promise: {", "regression: {magnitude: 1 dB, phase: 20 deg, delay: 100 us}\npromise: {", "at: 260 Hz", "at: 252 Hz"}, nil},
	{"phase compensation", true, []string{"digital:\n", "phase-compensation: all-pass\ndigital:\n"}, nil},
	{"another revision and title", false, []string{"revision: A1", "revision: A2\ntitle: Plover"}, nil},
	{"add an all-pass", true, []string{"      - peak: {at: 1.1 kHz", "      - all-pass: {at: 1 kHz, order: 2, q: 0.7}\n      - peak: {at: 1.1 kHz"}, nil},
	{"other units and comments", false, []string{"at: 260 Hz", "at: 0.26 kHz", "delay: 0.1 ms", "delay: 34.3 mm", "# All loudspeaker data in this file is invented.", "# Nothing"}, nil},
	{"other spelling: both sides of a crossover, an anchor, key order, defaults left out or written", false, []string{"    gain: -1.5 dB\n    delay: 0.1 ms\n", "    delay: 0.1 ms\n    gain: -1.50 dB\n    polarity: normal\n", "{between: [mid, treble], family: LR, order: 4, at: 2.5 kHz}", "{between: [mid, treble], low: &x {at: 2500 Hz, order: 4, family: LR}, high: *x}"}, nil},
	{"four lines at once", true, []string{"at: 92 Hz, q: 2.2", "at: 95 Hz, q: 2.5", "gain: -4 dB", "gain: -3.5 dB", "at: 2.5 kHz", "at: 2.4 kHz"}, map[string]func(*model){
		"ways.bass.filters[1].at": func(m *model) { m.peakAt = 95 },
		"ways.bass.filters[1].q":  func(m *model) { m.peakQ = 2.5 },
		"ways.bass.gain":          func(m *model) { m.bassDB = -3.5 },
		"crossovers[1].at":        func(m *model) { m.upper = 2400 },
	}},
	{"remove a way", true, []string{"  mid:\n    filters:\n      - peak: {at: 1.1 kHz, q: 1.5, gain: -2 dB}\n", "", "  - {between: [bass, mid], family: LR, order: 4, at: 260 Hz}\n", "", "between: [mid, treble]", "between: [bass, treble]"}, nil},
	{"remove a crossover", true, []string{"  - {between: [bass, mid], family: LR, order: 4, at: 260 Hz}\n", ""}, nil},
	{"a method for one filter", false, []string{"at: 1.1 kHz, q: 1.5", "at: 1.1 kHz, q: 1.5, method: fit"}, nil},
	{"treble gain and delay together, which interact in the sum", true, []string{"gain: -1.5 dB", "gain: -2 dB", "delay: 0.1 ms", "delay: 0.12 ms"}, map[string]func(*model){
		"ways.treble.gain":  func(m *model) { m.trebleDB = -2 },
		"ways.treble.delay": func(m *model) { m.lateS = 0.12e-3 },
	}},
	{"a changed filter that moved as well", true, []string{"      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}\n      - peak: {at: 92 Hz, q: 2.2, gain: -2.5 dB}", "      - peak: {at: 92 Hz, q: 2.2, gain: -2 dB}\n      - pole-shift: {from: {at: 58 Hz, q: 0.8}, to: {at: 40 Hz, q: 0.7}}"}, map[string]func(*model){
		"ways.bass.filters[0].gain": func(m *model) { m.peakDB = -2 },
	}},
	{"a common filter that not every way is heard at", true, []string{"  - low-shelf: {at: 200 Hz", "  - high-shelf: {at: 7 kHz, gain: 1.2 dB, q: 0.7}\n  - low-shelf: {at: 200 Hz"}, nil},
	{"a board", false, []string{"digital:\n", "board: {supply: 12 V, output: {coupling: 22 uF}}\ndigital:\n"}, nil},
	{"a name of the way", true, []string{"  treble:\n", "  tweeter:\n", "[mid, treble]", "[mid, tweeter]"}, nil},
	{"a promise dropped", true, []string{"magnitude: 60 dB, ", "magnitude: off, "}, nil},
	{"two gains that cancel", false, []string{"gain: -4 dB", "gain: -5 dB", "      - pole-shift", "      - gain: {by: 1 dB}\n      - pole-shift"}, nil},
	{"more channels", false, []string{"formats: [float32]", "formats: [float32]\n  channels: 2"}, nil},
}

// exitCode is what a check of the comparison exits with.
func exitCode(c *Comparison) int {
	if c.Regression {
		return 1
	}
	return 0
}

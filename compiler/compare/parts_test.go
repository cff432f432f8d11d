package compare

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"bandwright/compiler/result"
)

// partEdits are edits of a spec with a board; they are shown, with all that is
// said of them, in testdata/parts.txt.
var partEdits = []struct {
	what       string
	replace    []string
	regression bool
	says       []string
}{
	{"retune the crossover", []string{"2.2 kHz", "2.3 kHz"}, true, []string{"because crossovers[0].at went from", "for crossovers[0]", "parts list: "}},
	{"finer resistors", []string{"series: E24", "series: E96"}, false, []string{"board.resistors.series went from E24 to E96", "distinct values instead of",
		"dB at 2.52 kHz on the board, because board.resistors.series went from E24 to E96", "parts in 11 stages changed, because board.resistors.series went from E24 to E96"}},
	{"capacitors of one decade", []string{"series: E12}", "series: E12, from: 10 nF, to: 100 nF}"}, true, []string{"capacitors", "nF instead of"}},
	{"a slower op-amp", []string{"10 MHz", "5 MHz"}, true, []string{"board.op-amp.gain-bandwidth went from 10 MHz to 5 MHz"}},
	{"remove a filter", []string{"      - peak: {at: 800 Hz, q: 1.5, gain: -2 dB}\n", ""}, true, []string{"ways.bass.filters[1] was removed", "bass: stage removed, ", "11 op-amps instead of 14", "bass 3 instead of 4"}},
	{"how far parts spread", []string{"series: E24}", "series: E24, tolerance: 0.5 %}", "series: E12}\n", "series: E12}\n  distribution: normal\n"}, false,
		[]string{"board.resistors.tolerance went from", "board.distribution went from"}},
	{"a topology by name", []string{"high-pass: {at: 45 Hz, q: 0.8}", "high-pass: {at: 45 Hz, q: 0.8, topology: multiple-feedback-high-pass}"}, true,
		[]string{"multiple-feedback-high-pass instead of sallen-key-high-pass for ways.bass.filters[0] high-pass"}},
	{"a coupling capacitor", []string{"board:\n", "board:\n  output: {coupling: 10 uF}\n"}, true, []string{"inputs and outputs of the board: C20001 of 10 uF added", "on the board, because board.output.coupling went"}},
	{"no board any more", []string{"board:\n  op-amp: {gain-bandwidth: 10 MHz}\n  resistors: {series: E24}\n  capacitors: {series: E12}\n", "", ", board-magnitude: 0.2 dB", ""}, true,
		[]string{"the board was removed"}},
	{"comments and units", []string{"10 MHz", "10000 kHz", "# Stint", "# Another, stint"}, false, nil},
}

func TestEditsOfABoard(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src := string(data)
	was := accepted(t, src)
	if was.Board == nil || len(was.Board.Stages) < 8 {
		t.Fatalf("no board: %+v", was.Board)
	}
	var out strings.Builder
	for _, e := range partEdits {
		c := Results(was, accepted(t, replaced(t, src, e.replace...)))
		text := c.Text(1000)
		fmt.Fprintf(&out, "# %s\n", e.what)
		for i := 0; i < len(e.replace); i += 2 {
			out.WriteString(marked("-", e.replace[i]) + marked("+", e.replace[i+1]))
		}
		fmt.Fprintf(&out, "exit %d\n%s\n", exitCode(c), text)
		if c.Regression != e.regression {
			t.Errorf("%s: regression %v:\n%s", e.what, c.Regression, text)
		}
		for _, s := range e.says {
			if !strings.Contains(text, s) {
				t.Errorf("%s: not said %q:\n%s", e.what, s, text)
			}
		}
		if e.says == nil && len(c.Changes) > 0 {
			t.Errorf("%s: a change:\n%s", e.what, text)
		}
	}
	const golden = "testdata/parts.txt"
	if *update {
		if err := os.WriteFile(golden, []byte(out.String()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != out.String() {
		t.Errorf("the sentences have changed: run with -update and read them\n%s", out.String())
	}
}

// One part of a board that has another value is always told, whichever it is.
func TestEveryPartCounts(t *testing.T) {
	for _, b := range shipped(t) {
		if b.Board == nil {
			continue
		}
		was, now, n := result.Accept(b), result.Accept(b), 0
		for i := range was.Board.Stages {
			for k := range was.Board.Stages[i].Parts {
				p := &now.Board.Stages[i].Parts[k]
				before := *p
				p.Ohm, p.Farad = p.Ohm*1.1, p.Farad*1.1
				c := &comparison{old: was, new: now, out: &Comparison{}}
				c.parts()
				told := false
				for _, x := range c.out.Changes {
					told = told || x.Kind == OfPart && strings.Contains(x.Sentence, p.Ref+" "+p.String()+" instead of ")
				}
				if !told || c.out.Regression {
					t.Errorf("%s: %s of %v: %v", b.Spec.Name, p.Ref, p, c.out.Changes)
				}
				*p = before
				n++
			}
		}
		if n < 8 {
			t.Errorf("%s: %d parts", b.Spec.Name, n)
		}
	}
}

// What moves in the table of a board is told: from a hundredth of a decibel on,
// as a regression beyond the tolerances.
func TestBoardTableCounts(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	was := accepted(t, string(data))
	text, err := was.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	read := func() *result.Accepted {
		a, err := result.ReadAccepted(text)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	table := was.Board.Response
	if ways, rows := len(sharedWays(table, table)), len(table.Rows); ways != 2 || rows != 4 { // desk: both ways, both choices
		t.Fatalf("%d ways, %d rows", ways, rows)
	}
	for i, row := range table.Rows {
		for k, hz := range table.Hz {
			// The default row throughout, of the others enough to say whether
			// their settings are found; where the way is heard.
			if row.DB[k] < -10 || i > 0 && k%10 != 0 {
				continue
			}
			for _, m := range []struct {
				db, deg    float64
				regression bool
				says       string
			}{
				{0.02, 0, false, row.Way + ": +0.02 dB at " + hertz(hz)},
				{-0.2, 0, true, row.Way + ": -0.20 dB at " + hertz(hz)},
				{0, 2, true, row.Way + ": +2.0 deg at " + hertz(hz)},
				{0.005, 0, false, ""},
			} {
				now := read()
				r := &now.Board.Response.Rows[i]
				r.DB[k], r.Deg[k] = r.DB[k]+m.db, r.Deg[k]+m.deg
				c := Results(was, now)
				said := c.Text(1000)
				if m.says == "" {
					if len(c.Changes) > 0 {
						t.Errorf("row %d, %s, %g dB: %s", i, hertz(hz), m.db, said)
					}
					continue
				}
				if c.Regression != m.regression || !strings.Contains(said, m.says) || !strings.Contains(said, " on the board, because Bandwright itself changed") {
					t.Errorf("row %d, %s, %g dB, %g deg: %s", i, hertz(hz), m.db, m.deg, said)
				}
			}
		}
	}
}

// Accepted results from before boards were accepted, or before their responses
// were, are read, and what they lack is said.
func TestAcceptedWithoutBoard(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	now := accepted(t, string(data))
	for _, x := range []struct {
		lacks func(*result.Accepted)
		says  string
	}{
		{func(a *result.Accepted) { a.Board = nil }, "the accepted result has no board to compare this one with: 11 stages"},
		{func(a *result.Accepted) { a.Board.Response = nil; a.Board.OpAmps = 0 }, "the board's responses cannot be compared"},
	} {
		text, err := now.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		old, err := result.ReadAccepted(text)
		if err != nil {
			t.Fatal(err)
		}
		x.lacks(old)
		if text, err = old.Bytes(); err != nil {
			t.Fatal(err)
		}
		if old, err = result.ReadAccepted(text); err != nil {
			t.Fatal(err)
		}
		c := Results(old, now)
		if c.Regression || len(c.Changes) != 1 || !strings.Contains(c.Changes[0].Sentence, x.says) {
			t.Errorf("%s", c.Text(1000))
		}
	}
}

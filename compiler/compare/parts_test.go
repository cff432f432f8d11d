package compare

import (
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"

	"bandwright/biquad"
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
	{"finer resistors", []string{"series: E24", "series: E96"}, true, []string{"board.resistors.series went from E24 to E96", "distinct values instead of",
		"dB at 4.9 kHz on the board, because board.resistors.series went from E24 to E96", "parts in 9 stages changed, because board.resistors.series went from E24 to E96"}},
	{"capacitors of one decade", []string{"series: E12}", "series: E12, from: 10 nF, to: 100 nF}"}, true, []string{"capacitors", "nF instead of"}},
	{"a slower op-amp", []string{"10 MHz", "5 MHz"}, true, []string{"board.op-amp.gain-bandwidth went from 10 MHz to 5 MHz"}},
	{"remove a filter", []string{"      - peak: {at: 800 Hz, q: 1.5, gain: -2 dB}\n", ""}, true, []string{"ways.bass.filters[1] was removed", "bass: stage removed, ", "10 op-amps instead of 12", "bass 3 instead of 4"}},
	{"how far parts spread", []string{"series: E24}", "series: E24, tolerance: 0.5 %}", "series: E12}\n", "series: E12}\n  distribution: normal\n"}, false,
		[]string{"board.resistors.tolerance went from", "board.distribution went from"}},
	{"parts that spread further", []string{"series: E24}", "series: E24, tolerance: 2 %}"}, true, []string{"! board.resistors.tolerance went from 1 % to 2 %"}},
	{"classes of closer parts", []string{"series: E12}", "series: E12, tolerance: [2 %, 1 %]}"}, false, []string{"board.capacitors.tolerance went from 2 % to [2 %, 1 %]"}},
	{"classes of looser parts", []string{"series: E12}", "series: E12, tolerance: [1 %, 5 %]}"}, true, []string{"! board.capacitors.tolerance went from 2 % to [1 %, 5 %]"}},
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
		show(&out, e.what, e.replace, c)
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
	golden(t, "testdata/parts.txt", out.String())
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
					if now.Board.Held != "" {
						told = told || strings.HasPrefix(x.Sentence, p.Ref+" ") && strings.Contains(x.Sentence, " -> ") && strings.HasSuffix(x.Sentence, " in "+heldStage(now.Board.Stages[i]))
						continue
					}
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

// muted is a spec whose board has what filters, protects and mutes.
const muted = `bandwright: 1
name: wren
ways: {low: {filters: [{low-pass: {at: 300 Hz, q: 0.7}}]}}
board:
  input: {balanced: true, coupling: 22 uF, rf-filter: 300 kHz, protection: clamp-diodes}
  output: {build-out: 470 ohm, mute: transistor}
`

// What an accepted board responds is what the board of the build does, in every
// combination of settings, between and beyond the frequencies of any table.
func TestAcceptedBoardResponds(t *testing.T) {
	boards := 0
	for _, b := range append(shipped(t), built(t, muted)) {
		if b.Board == nil {
			continue
		}
		boards++
		text, err := result.Accept(b).Bytes()
		if err != nil {
			t.Fatal(err)
		}
		a, err := result.ReadAccepted(text)
		if err != nil {
			t.Fatal(err)
		}
		hz := biquad.Octaves(11, 31e3, 7)
		var axes []biquad.Axis
		for i, s := range b.Settings {
			axes = append(axes, biquad.Axis{Setting: i, Choices: len(s.Choices)})
		}
		biquad.Each(axes, len(b.Settings), func(combo biquad.Combination) {
			choices := map[string]string{}
			for i, s := range b.Settings {
				choices[s.Name] = s.Choices[combo[i]]
			}
			got, err := a.Board.Responses([]map[string]string{choices}, hz)
			if err != nil {
				t.Fatal(err)
			}
			want := make([]complex128, len(hz))
			for k := range b.Board.Ways {
				b.Board.On(hz).Response(want, k, combo)
				for i, f := range hz {
					if w := want[i] * cmplx.Conj(biquad.Delay(f, b.Board.CommonDelayS())); cmplx.Abs(got[0][k][i]-w) > 1e-9*cmplx.Abs(w) {
						t.Fatalf("%s %s with %v at %g Hz: %v, not %v", b.Spec.Name, b.Board.Ways[k].Name, choices, f, got[0][k][i], w)
					}
				}
			}
		})
	}
	if boards < 3 {
		t.Errorf("%d boards", boards)
	}
}

// A part of a board that moves a response further than the tolerances is a
// regression wherever that is, between the lines of any table and in every
// combination; one that does not is none.
func TestEveryPartIsJudged(t *testing.T) {
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	was, now := accepted(t, string(data)), reread(t, accepted(t, string(data)))
	combos := []map[string]string{{"desk": "none"}, {"desk": "on-desk"}}
	hz := biquad.Octaves(20, 20e3, 96)
	before, err := was.Board.Responses(combos, hz)
	if err != nil {
		t.Fatal(err)
	}
	found := map[bool]int{}
	for i := range now.Board.Stages {
		for k := range now.Board.Stages[i].Parts {
			p := &now.Board.Stages[i].Parts[k]
			is := *p
			for _, factor := range []float64{1.003, 1.03, 0.7} {
				p.Ohm, p.Farad = is.Ohm*factor, is.Farad*factor
				after, err := now.Board.Responses(combos, hz)
				if err != nil {
					t.Fatal(err)
				}
				most, sum := furthest(before, after)
				if math.Abs(math.Max(most, sum)-0.05) < 0.003 {
					continue // the grids differ
				}
				c := Results(was, now)
				must := math.Max(most, sum) > 0.05
				found[must]++
				if text := c.Text(1000); c.Regression != must && !strings.Contains(text, " deg at ") || must && !strings.Contains(text, " on the board, because Bandwright itself changed") {
					t.Errorf("%s · %g moves a way by %.3f dB, the sum by %.3f dB:\n%s", p.Ref, factor, most, sum, text)
				}
			}
			*p = is
		}
	}
	if found[true] < 30 || found[false] < 20 {
		t.Errorf("%v", found)
	}
}

// A board that stays as it is while the spec asks for something else is told as
// that, and as no move of its own.
func TestBoardThatStays(t *testing.T) {
	src := delayed(t)
	was := accepted(t, src)
	for _, e := range []struct {
		regression bool
		replace    []string
	}{
		{false, []string{"delay: 50 us", "delay: 50.5 us"}},
		{true, []string{"gain: -4 dB", "gain: -4.1 dB"}},
	} {
		now := *accepted(t, replaced(t, src, e.replace...))
		now.Board, now.Digital = was.Board, was.Digital
		c := Results(was, &now)
		text := c.Text(1000)
		if c.Regression != e.regression || !strings.Contains(text, "\n* treble: the board does not follow the spec's change: no part of it changed") ||
			strings.Contains(text, " on the board") || strings.Contains(text, "\n! treble: +") {
			t.Errorf("%s", text)
		}
	}
}

// furthest is the largest change of level (dB) of a way within 20 dB of its peak,
// and of the sum.
func furthest(a, b [][][]complex128) (ways, sum float64) {
	scan := func(x, y []complex128) (most float64) {
		px, py := peak(x), peak(y)
		for i := range x {
			if math.Max(level(x[i])-px, level(y[i])-py) >= -20 {
				most = math.Max(most, math.Abs(level(y[i])-level(x[i])))
			}
		}
		return most
	}
	for c := range a {
		both := [2][]complex128{make([]complex128, len(a[c][0])), make([]complex128, len(a[c][0]))}
		for w := range a[c] {
			ways = math.Max(ways, scan(a[c][w], b[c][w]))
			for i := range both[0] {
				both[0][i], both[1][i] = both[0][i]+a[c][w][i], both[1][i]+b[c][w][i]
			}
		}
		sum = math.Max(sum, scan(both[0], both[1]))
	}
	return ways, sum
}

// reread is an accepted result written and read again.
func reread(t *testing.T, a *result.Accepted) *result.Accepted {
	t.Helper()
	text, err := a.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	out, err := result.ReadAccepted(text)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// bare takes the wiring of a board away.
func bare(b *result.AcceptedBoard) {
	lists := [][]result.AcceptedPart{b.Outside, b.Ends}
	for _, s := range b.Stages {
		lists = append(lists, s.Parts, s.OpAmps)
	}
	for _, list := range lists {
		for i := range list {
			list[i].Nodes = nil
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
		{func(a *result.Accepted) { a.Board = nil }, "the accepted result has no board to compare this one with: 9 stages"},
		{func(a *result.Accepted) { a.Board.Outputs = nil }, "the board's responses cannot be compared"},
		// As a NAME.json has it, which is no regression.
		{func(a *result.Accepted) { a.Board.Outputs, a.Board.Contacts = nil, nil; bare(a.Board) }, "a NAME.json does not hold how a board is wired"},
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

package compare

import (
	"context"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"bandwright/compiler"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
)

// heldEdits are edits of a spec whose board is held, and of the file that holds it; they
// are shown, with all that is said of them, in testdata/heldparts.txt.
var heldEdits = []struct {
	what       string
	replace    []string // in the spec
	byHand     []string // in the file
	regression bool
	says, not  []string
}{
	{"another title", []string{"name: stint", "name: stint\ntitle: Stint"}, nil, false, []string{"no part of the held board changed"}, nil},
	{"two channels", []string{"method: bilinear", "method: bilinear, channels: 2"}, nil, false, []string{"no part of the held board changed"}, nil},
	{"a corner within the tolerances", []string{"2.2 kHz", "2.201 kHz"}, nil, false, []string{"no part of the held board changed"}, []string{" instead of "}},
	{"a gain within the promise", []string{"gain: -4 dB", "gain: -4.06 dB"}, nil, true,
		[]string{"no part of the held board changed", "* treble and sum: the held board stays as it is: that keeps the promises of the changed spec"}, []string{"does not follow"}},
	{"a gain by 1 dB", []string{"gain: -4 dB", "gain: -5 dB"}, nil, true, []string{" -> ", " in treble stage ", "parts in 9 stages changed, because the changed filters ask for it"},
		[]string{" instead of 9 stages", "renumbered"}},
	{"another corner", []string{"2.2 kHz", "2.3 kHz"}, nil, true, []string{" -> ", "(low-pass)", "(high-pass)"}, []string{"renumbered"}},
	{"a filter before the others", []string{"      - high-pass", "      - peak: {at: 300 Hz, q: 2, gain: 2 dB}\n      - high-pass"}, nil, true,
		[]string{"bass stage 5 (peak) added, "}, []string{"renumbered"}},
	{"remove a filter", []string{"      - peak: {at: 800 Hz, q: 1.5, gain: -2 dB}\n", ""}, nil, true, []string{"bass stage 3 (peak) removed, "}, []string{"renumbered"}},
	{"filters in another order", []string{"      - high-pass: {at: 45 Hz, q: 0.8}\n      - peak: {at: 800 Hz, q: 1.5, gain: -2 dB}\n",
		"      - peak: {at: 800 Hz, q: 1.5, gain: -2 dB}\n      - high-pass: {at: 45 Hz, q: 0.8}\n"}, nil, false, []string{"no part of the held board changed"}, nil},
	{"a part by hand", nil, []string{"R20305: 6.2 kohm", "R20305: 6.8 kohm"}, true, []string{"* R20305 6.2 -> 6.8 kohm in bass stage 3 (peak)\n", "because stint.board.yaml is another file"}, nil},
	{"another name of a way", []string{"  bass:", "  low:", "[bass,", "[low,"}, nil, true, []string{"! ways.bass is now called low\n", "no part of the held board changed"}, []string{" -> ", " instead of ", "promise", "coefficients"}},
	{"trimmers", []string{"  few-values: off\n", "  few-values: off\n  trim: 1 dB\n"}, nil, true,
		[]string{" because board.trim was added: 1 dB\n", "500 ohm trimmer 2 instead of 0", "R20002 of 500 ohm trimmer added"}, []string{"Bandwright itself"}},
	{"a comment by hand", nil, []string{"\nname: ", " # by hand\nname: "}, false, []string{"no part of the held board changed"}, nil},
}

// heldStint is the spec of the edits above with a line that names the file that holds its
// board, and that file.
func heldStint(t *testing.T) (src, held string) {
	t.Helper()
	data, err := os.ReadFile("testdata/stint.yaml")
	if err != nil {
		t.Fatal(err)
	}
	src = replaced(t, string(data), "board:\n", "board:\n  few-values: off\n  held: stint.board.yaml\n", "sum: off", "sum: 0.2 dB")
	return src, string(language.FormatHeld(compiledHeld(t, src, "").Hold()))
}

// heldBuilds are those of specs and the files that hold their boards, each compiled once.
var heldBuilds = map[[2]string]*compiler.Build{}

// compiledHeld compiles a spec with the file that holds its board, or none yet. The Build is not to be changed.
func compiledHeld(t *testing.T, src, held string) *compiler.Build {
	t.Helper()
	if b := heldBuilds[[2]string{src, held}]; b != nil {
		return b
	}
	folder := fstest.MapFS{}
	if held != "" {
		folder["stint.board.yaml"] = &fstest.MapFile{Data: []byte(held)}
	}
	b, faults, err := compiler.CompileHolding(context.Background(), "stint.yaml", []byte(src), folder, compiler.Holding{Absent: held == ""})
	if err != nil || b == nil {
		t.Fatal(faults, err)
	}
	heldBuilds[[2]string{src, held}] = b
	return b
}

func TestEditsOfAHeldBoard(t *testing.T) {
	src, held := heldStint(t)
	was := reread(t, result.Accept(compiledHeld(t, src, held)))
	if was.Board.Held != "stint.board.yaml" {
		t.Fatalf("held by %q", was.Board.Held)
	}
	var out strings.Builder
	for _, e := range heldEdits {
		now := result.Accept(compiledHeld(t, replaced(t, src, e.replace...), replaced(t, held, e.byHand...)))
		c := Results(was, now)
		text := c.Text(1000)
		show(&out, e.what, append(e.replace, e.byHand...), c)
		if c.Regression != e.regression {
			t.Errorf("%s: regression %v:\n%s", e.what, c.Regression, text)
		}
		for _, s := range e.says {
			if !strings.Contains(text, s) {
				t.Errorf("%s: not said %q:\n%s", e.what, s, text)
			}
		}
		for _, s := range e.not {
			if strings.Contains(text, s) {
				t.Errorf("%s: said %q:\n%s", e.what, s, text)
			}
		}
	}
	golden(t, "testdata/heldparts.txt", out.String())
}

// A board is held as it was built: nothing of it changes, and against a result from before
// it was held too its parts are told by their names.
func TestBoardThatIsHeldNow(t *testing.T) {
	src, held := heldStint(t)
	before := result.Accept(compiledHeld(t, strings.Replace(src, "  held: stint.board.yaml\n", "", 1), ""))
	now := result.Accept(compiledHeld(t, src, held))
	if text := Results(before, now).Text(1000); !strings.Contains(text, "\n* no part of the held board changed\n") || strings.Contains(text, "!") {
		t.Errorf("%s", text)
	}
	other := result.Accept(compiledHeld(t, replaced(t, src, "gain: -4 dB", "gain: -5 dB"), held))
	if text := Results(before, other).Text(1000); !strings.Contains(text, " in treble stage ") || strings.Contains(text, "renumbered") {
		t.Errorf("%s", text)
	}
}

// One part of a held board that has another value is always told by its reference and its
// stage, whichever it is.
func TestEveryHeldPartCounts(t *testing.T) {
	src, held := heldStint(t)
	b := compiledHeld(t, src, held)
	was, now := result.Accept(b), result.Accept(b)
	for i := range was.Board.Stages {
		s := &now.Board.Stages[i]
		for k := range s.Parts {
			p := &s.Parts[k]
			before := *p
			p.Ohm, p.Farad = p.Ohm*1.1, p.Farad*1.1
			c := &comparison{old: was, new: now, out: &Comparison{}}
			c.parts()
			told := 0
			for _, x := range c.out.Changes {
				if strings.HasPrefix(x.Sentence, p.Ref+" ") && strings.HasSuffix(x.Sentence, " in "+heldStage(*s)) && strings.Contains(x.Sentence, " -> ") {
					told++
				}
			}
			if told != 1 || c.out.Regression {
				t.Errorf("%s: %v", p.Ref, c.out.Changes)
			}
			*p = before
		}
	}
}

// Two versions of the program that made two results are told; one, or an unknown one, is
// not, and neither is a change.
func TestTwoVersions(t *testing.T) {
	src := plover(t)
	for _, x := range []struct{ was, is, says string }{
		{"v1.2.0", "v1.3.0", "made by two versions of Bandwright: v1.2.0 before, v1.3.0 now"},
		{"v1.3.0", "v1.3.0", ""}, {"", "v1.3.0", ""}, {"v1.2.0", "", ""},
	} {
		was, now := *accepted(t, src), *accepted(t, src)
		was.MadeBy, now.MadeBy = x.was, x.is
		c := Results(reread(t, &was), &now)
		want := "plover: no change\n"
		if x.says != "" {
			want += x.says + "\n"
		}
		if text := c.Text(1000); text != want || c.MadeBy != x.says || len(c.Changes) > 0 {
			t.Errorf("%q", text)
		}
	}
}

package language_test

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"bandwright/compiler/grammar"
	"bandwright/compiler/language"
)

var updateFaults = flag.Bool("update", false, "write the goldens")

// heldSample is a held board that has something of everything, as it is written.
func heldSample(t testing.TB) []byte {
	src, err := os.ReadFile("testdata/held.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return src
}

// placeless is a held board without its places and its bytes.
func placeless(h *language.Held) *language.Held {
	out := *h
	out.File, out.Source = "", nil
	clear(reflect.ValueOf(&out))
	return &out
}

// clear sets every Pos below a value to none; slices are copied.
func clear(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		clear(v.Elem())
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[language.Pos]() {
			v.SetZero()
			return
		}
		for i := range v.NumField() {
			clear(v.Field(i))
		}
	case reflect.Slice:
		if v.IsNil() {
			return
		}
		c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(c, v)
		v.Set(c)
		for i := range v.Len() {
			clear(v.Index(i))
		}
	}
}

// checkHeld demands that a board reads back from what is written of it.
func checkHeld(t *testing.T, h *language.Held) []byte {
	t.Helper()
	text := language.FormatHeld(h)
	back, faults := language.ParseHeld("held.yaml", text, grammar.Language())
	if back == nil {
		t.Fatalf("%v\nin\n%s", faults, text)
	}
	if !reflect.DeepEqual(placeless(h), placeless(back)) {
		t.Fatalf("another board came back:\n%+v\n%+v\nfrom\n%s", placeless(h), placeless(back), text)
	}
	if again := language.FormatHeld(back); !bytes.Equal(again, text) {
		t.Fatalf("written again it is\n%s\nnot\n%s", again, text)
	}
	return text
}

func TestHeldReadsBack(t *testing.T) {
	src := heldSample(t)
	h, faults := language.ParseHeld("held.yaml", src, grammar.Language())
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if text := checkHeld(t, h); !bytes.Equal(text, src) {
		t.Errorf("the sample is not written as it stands:\n%s", text)
	}
	stage := h.Common.Places[1].Alternatives[1][0]
	if stage.Number != 2 || stage.Level != -1 || stage.W0 != 2*math.Pi*210 || stage.B != [3]float64{0.7079457843841379, 1.2020713342425133, 1} ||
		len(stage.Parts) != 10 || stage.Parts[6].Ref != "C10201" || stage.Parts[6].Value != 470e-9 || stage.Parts[6].Dim != language.Capacitance ||
		stage.OpAmps[0].Ref != "U102B" || stage.Role != "filter" {
		t.Errorf("a stage is read as %+v", stage)
	}
	if h.Ways[1].Block != 5 || h.Written["R10002"] != 100e3 || h.Common.Ends[2].Of != "S1" || len(h.Common.Places[1].Alternatives[0]) != 0 {
		t.Errorf("the board is read as %+v", h)
	}
	for _, p := range stage.Parts {
		if !strings.HasPrefix(lineAt(src, p.Pos), p.Ref) || strings.HasPrefix(lineAt(src, p.ValuePos), p.Ref) {
			t.Errorf("%s is not at %v, or its value at %v", p.Ref, p.Pos, p.ValuePos)
		}
	}
}

// lineAt is a file's line from a place on.
func lineAt(src []byte, at language.Pos) string {
	return strings.Split(string(src), "\n")[at.Line-1][at.Col-1:]
}

// Numbers of any size and any number of digits read back to the bit, and lines stay
// inside their width.
func TestHeldNumbersReadBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	any := func(low, high float64) float64 { return low * math.Exp2(r.Float64()*math.Log2(high/low)) }
	inHz := 0
	for range 400 {
		h, _ := language.ParseHeld("held.yaml", heldSample(t), grammar.Language())
		s := &h.Common.Places[2].Alternatives[0][0]
		s.W0, s.Level = any(1e-3, 1e8), -any(1e-6, 1e6)
		f := math.Round(any(1, 1e6)) / 10
		if r.IntN(2) == 0 {
			s.W0 = 2 * math.Pi * f
		}
		for k := range 3 {
			s.B[k], s.A[k] = r.NormFloat64(), any(1e-30, 1e30)
		}
		s.Parts[0].Value, s.Parts[2].Value = any(1e-3, 1e9), any(1e-12, 1)
		h.Written["C10701"] = any(1e-12, 1)
		text := string(checkHeld(t, h))
		if strings.Contains(text, fmt.Sprintf("at: %v Hz", f)) {
			inHz++
		}
		for line := range strings.Lines(text) {
			if len(line) > 161 && !strings.Contains(line, "for:") && !strings.Contains(line, "section:") {
				t.Fatalf("a line of %d characters: %s", len(line), line)
			}
		}
	}
	if inHz < 100 {
		t.Errorf("only %d sections at a frequency of few digits are written with it", inHz)
	}
}

// What is wrong in a held board is said at its place, once, with what would be right.
func TestHeldFaults(t *testing.T) {
	src := string(heldSample(t))
	var b strings.Builder
	for _, e := range heldEdits {
		if strings.Count(src, e.old) == 0 {
			t.Errorf("%s: the sample has no %q", e.name, e.old)
		}
		h, faults := language.ParseHeld("held.yaml", []byte(strings.Replace(src, e.old, e.new, 1)), grammar.Language())
		if (h == nil) != slices.ContainsFunc(faults, func(f language.Fault) bool { return f.Severity == language.Error }) || len(faults) == 0 {
			t.Errorf("%s: a board %v, with faults %v", e.name, h != nil, faults)
		}
		fmt.Fprintf(&b, "# %s\n", e.name)
		for _, f := range faults {
			b.WriteString(f.Error() + "\n")
		}
		b.WriteString("\n")
	}
	h, _ := language.ParseHeld("held.yaml", []byte(src), grammar.Language())
	if f, bad := h.Misnamed("bittern"); bad {
		b.WriteString("# another spec's\n" + f.Error() + "\n")
	}
	if _, bad := h.Misnamed("heron"); bad {
		t.Error("the spec's own name is refused")
	}
	const golden = "testdata/heldfaults.txt"
	if *updateFaults {
		if err := os.WriteFile(golden, []byte(b.String()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the messages are not those of %s (-update writes them):\n%s", golden, b.String())
	}
}

// heldEdits break one thing each in the sample.
var heldEdits = []struct{ name, old, new string }{
	{"an unknown key", "block: 2", "blok: 2"},
	{"a key of a stage", "            topology: bridged-t", "            topolgy: bridged-t"},
	{"an unknown topology", "topology: bridged-t", "topology: bridge-t"},
	{"no topology at all", "topology: sallen-key-high-pass", "topology: valve"},
	{"a balanced topology inside", "topology: sallen-key-high-pass", "topology: difference-amplifier"},
	{"a reference twice in one stage", "R10702: 20.5", "R10701: 20.5"},
	{"a reference twice, in another stage", "R10702: 20.5", "R10401: 20.5"},
	{"a reference of another stage", "R10702: 20.5", "R10302: 20.5"},
	{"a reference of another block", "R20102: 4.99", "R30102: 4.99"},
	{"a reference of another letter", "C10701: 390", "L10701: 390"},
	{"a reference in small letters", "R10701: 10.2", "r10701: 10.2"},
	{"an op-amp twice", "[U104A]", "[U103B]"},
	{"an op-amp of another block", "[U104A]", "[U204A]"},
	{"no op-amp", "[U104A]", "[104A]"},
	{"a selector by its number", "selector: S1", "selector: 2"},
	{"a bleed of no selector", "of: S1,", "of: S9,"},
	{"a bleed of nothing", "use: bleed, of: S1", "use: bleed"},
	{"a bias of a selector", "use: bias", "use: bias, of: S1"},
	{"an end in a stage", "R10002: {use", "R10102: {use"},
	{"an unknown use", "use: bias", "use: byas"},
	{"a stage twice in a block", "stage: 7", "stage: 4"},
	{"a block twice", "block: 5", "block: 2"},
	{"no unit", "R10701: 10.2 kohm", "R10701: 10.2"},
	{"a unit of a capacitor", "R10701: 10.2 kohm", "R10701: 10.2 nF"},
	{"a unit of nothing", "C10701: 390 nF", "C10701: 390 nK"},
	{"a decimal comma", "R10701: 10.2 kohm", "R10701: 10,2 kohm"},
	{"a value out of range", "C10701: 390 nF", "C10701: 0.1 pF"},
	{"no value", "R10701: 10.2 kohm", "R10701:"},
	{"no colon", "R10701: 10.2 kohm", "R10701"},
	{"a missing key", "            topology: bridged-t\n", ""},
	{"no stage number", "    - stage: 7\n      for", "    - for"},
	{"a level of 0", "level: -1", "level: 0"},
	{"a level in dB", "level: -1", "level: -1 dB"},
	{"no frequency", "section: {at: 22 Hz, ", "section: {"},
	{"both frequencies", "section: {at: 22 Hz, ", "section: {at: 22 Hz, w0: 138, "},
	{"a numerator of 0", "numerator: [1, 0, 0]", "numerator: [0, 0, 0]"},
	{"a third order", "numerator: [1, 0, 0]", "numerator: [1, 0, 0, 0]"},
	{"one position", "        - []\n", ""},
	{"parts as a list", "parts: {R10401: 7.87 kohm, R10402: 7.87 kohm}", "parts: [7.87 kohm, 7.87 kohm]"},
	{"written of no part", "of: [C10001]", "of: [K10001]"},
	{"written twice", "of: [C10001]", "of: [C10001, C10001]"},
	{"written of another kind", "of: [C10001]", "of: [C10001, R20299]"},
	{"written without a value", "value: 10 uF, of", "of"},
	{"another version", "bandwright-board: 1", "bandwright-board: 2"},
	{"a spec", "bandwright-board: 1", "bandwright: 1"},
	{"no version", "bandwright-board: 1\n", ""},
	{"a list", "bandwright-board: 1", "- 1"},
	{"a tag", "name: heron", "name: !!str heron"},
	{"indentation", "    block: 5", " block: 5"},
}

// FuzzParseHeld demands of any bytes that nothing panics, that there is a board or an
// error, and that a board reads back.
func FuzzParseHeld(f *testing.F) {
	src := heldSample(f)
	f.Add(src)
	for _, e := range heldEdits {
		f.Add([]byte(strings.Replace(string(src), e.old, e.new, 1)))
	}
	lang := grammar.Language()
	f.Fuzz(func(t *testing.T, src []byte) {
		h, faults := language.ParseHeld("fuzz.yaml", src, lang)
		bad := slices.ContainsFunc(faults, func(f language.Fault) bool { return f.Severity == language.Error })
		if (h == nil) != bad {
			t.Fatalf("a board %v with %v", h != nil, faults)
		}
		for _, f := range faults {
			if f.Message == "" || f.Right == "" || f.Pos.Line < 1 || f.Error() == "" {
				t.Fatalf("a fault without words or place: %+v", f)
			}
		}
		if h != nil {
			checkHeld(t, h)
		}
	})
}

package report_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
	"bandwright/targets/explain"
	"bandwright/targets/report"
)

// longest is the greatest length of a line, in characters.
const longest = 100

func compile(t *testing.T, src string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "spec.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	return b
}

func text(t *testing.T, b *compiler.Build) string {
	t.Helper()
	files, err := report.Emit(b)
	if err != nil || len(files) != 1 || files[0].Name != "report.txt" {
		t.Fatalf("%v %v", files, err)
	}
	return string(files[0].Data)
}

// tidy demands what holds for every report.
func tidy(t *testing.T, what, s string) {
	t.Helper()
	for i, l := range strings.Split(s, "\n") {
		switch {
		case utf8.RuneCountInString(l) > longest:
			t.Errorf("%s:%d has more than %d characters: %s", what, i+1, longest, l)
		case strings.TrimRight(l, " \t") != l:
			t.Errorf("%s:%d ends in white space: %q", what, i+1, l)
		}
	}
	if !strings.HasSuffix(s, "\n") || strings.HasSuffix(s, "\n\n") {
		t.Errorf("%s must end with one end of line", what)
	}
	for _, bad := range []string{"NaN", "Inf", "%!"} {
		if strings.Contains(s, bad) {
			t.Errorf("%s contains %s", what, bad)
		}
	}
	first, _, _ := strings.Cut(s, "\n")
	if !strings.HasPrefix(first, "KEPT: ") && !strings.HasPrefix(first, "BROKEN: ") {
		t.Errorf("%s begins with %q, not with the verdict", what, first)
	}
}

// two is a two-way whose magnitude promise is given.
func two(magnitude string) string {
	return fmt.Sprintf(`bandwright: 1
name: linnet
title: Größe × Ω, made up
revision: R3
settings:
  wall: [far, near]
ways:
  low:
    filters:
      - peak: {at: 9 kHz, q: 1, gain: 3 dB, when: {wall: near}}
  high: {}
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 2 kHz}
promise: {magnitude: %s, phase: off, sum: off, latency: 2 ms}
digital: {rates: [48 kHz, 96 kHz], formats: [float32, float64], method: bilinear, headroom: 6 dB}
`, magnitude)
}

func TestBroken(t *testing.T) {
	b := compile(t, two("0.1 dB"))
	s := text(t, b)
	tidy(t, "report", s)
	for _, want := range []string{
		"BROKEN: 1 of ", " promises is not kept: magnitude (",
		"linnet: Größe × Ω, made up", "R3", b.SHA256,
		"What is broken, and what to change",
		"magnitude of low, 0.1 dB allowed", "digital 48 kHz float32, with wall: ", "(2 of 2 combinations)", "to keep it: ",
		"top octave, 10 kHz to 20 kHz",
		"add 6 dB",
		"low and high",
		"wall: near",
		"2 ms",
		"No filter blocks DC in low (0 dB)",
		"hearing", "mains",
	} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is missing in\n%s", want, s)
		}
	}
	if strings.Contains(s, "from high") || strings.Contains(s, "and high (") {
		t.Error("the high way has a high-pass and passes no 0 Hz")
	}
	// What is broken comes before every table.
	if strings.Index(s, "What is broken") > strings.Index(s, "Promises: limit") {
		t.Error("what is broken must come first")
	}
	broken, gathered := 0, 0
	running := strings.Join(strings.Fields(s), " ")
	for _, f := range b.Findings {
		if !f.Kept {
			broken++
			if !strings.Contains(running, f.Where()) {
				t.Errorf("%q is missing in\n%s", f.Where(), s)
			}
		}
	}
	for _, x := range verify.VerdictOn(b.Findings).Breaks {
		gathered += len(x.Findings)
		if !strings.Contains(running, "to keep it: "+x.Worst.Remedy) {
			t.Errorf("no remedy for %s", x.Worst.Head())
		}
	}
	if gathered != broken || broken == 0 {
		t.Errorf("%d of %d broken findings", gathered, broken)
	}
}

// Every figure of every way that the spec asks for stands in the report.
func TestFiguresAreThere(t *testing.T) {
	b := compile(t, two("40 dB"))
	s := text(t, b)
	tidy(t, "report", s)
	if !strings.HasPrefix(s, "KEPT: all ") || strings.Contains(s, "What is broken") {
		t.Errorf("a kept spec reads\n%s", s)
	}
	lines := strings.Split(s, "\n")
	for _, d := range b.Digital {
		if !d.Asked {
			t.Fatalf("%s was not asked for", d.Name())
		}
		start := -1
		for i, l := range lines {
			if strings.HasPrefix(l, words.Rate(d.RateHz)+" "+d.Format.Name+", method bilinear") {
				start = i
			}
		}
		if start < 0 {
			t.Fatalf("no part for %s in\n%s", d.Name(), s)
		}
		figures := verify.Of(b.Figures, d.Name())
		if len(figures) != 3 {
			t.Fatalf("%d figures for two ways and a sum", len(figures))
		}
		for _, f := range figures {
			want := fmt.Sprintf("%s %s %s", f.Way, words.Signed(f.Magnitude.Value, "dB"), words.Hz(f.Magnitude.AtHz))
			found := false
			for _, l := range lines[start+1:] {
				if l == "" {
					break
				}
				found = found || strings.HasPrefix(strings.Join(strings.Fields(l), " "), want)
			}
			if !found {
				t.Errorf("%s: no line %q in\n%s", d.Name(), want, s)
			}
		}
	}
}

// Names and texts as long as the language allows must not break the layout.
func TestLongNames(t *testing.T) {
	long := strings.Repeat("quite_a_long_", 3)
	src := strings.NewReplacer("wall", "s"+long, "low:", "a"+long+":", "high:", "b"+long+":", "[low, high]", "[a"+long+", b"+long+"]",
		"Größe × Ω", strings.Repeat("Größe", 36)).Replace(two("0.1 dB"))
	b, faults, err := compiler.Compile(context.Background(), "spec.yaml", []byte(src), os.DirFS("../../specs"))
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	tidy(t, "report", text(t, b))
}

func TestShippedSpecs(t *testing.T) {
	paths, err := filepath.Glob("../../specs/*.yaml")
	if err != nil || len(paths) == 0 {
		t.Fatal("no specs", err)
	}
	for _, path := range paths {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		tidy(t, path, text(t, compile(t, string(src))))
	}
}

// Rates that differ in their fifth digit are realisations of their own.
func TestNearRates(t *testing.T) {
	b := compile(t, strings.Replace(two("40 dB"), "[48 kHz, 96 kHz]", "[44.1 kHz, 44.104 kHz]", 1))
	for _, d := range b.Digital {
		if n := len(verify.Of(b.Figures, d.Name())); n != 3 {
			t.Errorf("%s has %d figures, want two ways and a sum", d.Name(), n)
		}
	}
}

// under are the four lines below the verdict, by their names.
func under(t *testing.T, s string) map[string]string {
	t.Helper()
	out := map[string]string{}
	name := ""
	for _, l := range strings.Split(s, "\n")[1:] {
		if l == "" {
			break
		}
		if strings.HasPrefix(l, "  ") && !strings.HasPrefix(l, "   ") {
			name = strings.Fields(l)[0]
			l = strings.TrimPrefix(l, "  "+name)
		}
		out[name] = strings.TrimSpace(out[name] + " " + strings.TrimSpace(l))
	}
	return out
}

// Below the verdict stand the worst figures of all, found here anew.
func TestLinesUnderTheVerdict(t *testing.T) {
	src, err := os.ReadFile("../../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b := compile(t, string(src))
	got := under(t, text(t, b))
	var sum, clip, dc verify.Extreme
	peak := verify.Extreme{Value: -1000}
	for _, f := range b.Figures {
		if f.Way == verify.SumName {
			if math.Abs(f.Magnitude.Value) > math.Abs(sum.Value) && f.Realisation != "digital 44.1 kHz float64" && f.Realisation != "digital 48 kHz float64" && f.Realisation != "digital 96 kHz float64" {
				sum = f.Magnitude
			}
			continue
		}
		if f.Peak.Known && f.Peak.Value > peak.Value {
			peak = f.Peak
		}
		if f.ClipV.Known && (!clip.Known || f.ClipV.Value < clip.Value) {
			clip = f.ClipV
		}
		if f.OffsetV.Known && (!dc.Known || f.OffsetV.Value > dc.Value) {
			dc = f.OffsetV
		}
	}
	for name, want := range map[string]string{
		"sum":      fmt.Sprintf("worst %s at %s", words.Signed(sum.Value, "dB"), words.Hz(sum.AtHz)),
		"headroom": fmt.Sprintf("least %.2f dB: bass at %s", -peak.Value, words.Hz(peak.AtHz)),
		"DC":       "none at any output of the board",
		"caution":  "a wrong channel or polarity can destroy a driver",
	} {
		if !strings.HasPrefix(got[name], want) {
			t.Errorf("%s says %q, want %q", name, got[name], want)
		}
	}
	if dc.Value != 0 {
		t.Errorf("%g V behind coupling capacitors", dc.Value)
	}
	direct := compile(t, strings.Replace(string(src), "coupling: 10 uF", "coupling: none", 1))
	dc.Value = 0
	for _, f := range direct.Figures {
		dc.Value = max(dc.Value, f.OffsetV.Value)
	}
	if got, want := under(t, text(t, direct))["DC"], "greatest "+words.Volt.Measured(dc.Value)+" at the output of "; !strings.HasPrefix(got, want) || dc.Value < 1e-6 {
		t.Errorf("DC says %q, want %q", got, want)
	}
	if want := fmt.Sprintf("%.2f dB: bass at %s, board", 20*math.Log10(clip.Value/2), words.Hz(clip.AtHz)); !strings.Contains(got["headroom"], want) { // input.level is 2 V
		t.Errorf("headroom says %q, want %q", got["headroom"], want)
	}
	if len(got) != 4 {
		t.Errorf("%d lines under the verdict, want 4: %v", len(got), got)
	}
	if got := under(t, text(t, compile(t, two("40 dB")))); got["DC"] != "passes to low (0 dB)" || !strings.HasPrefix(got["caution"], "no filter blocks DC in low") {
		t.Errorf("a way that passes DC: %v", got)
	}
}

// The report of an analog product speaks of its board alone.
func TestAnalogProduct(t *testing.T) {
	src := two("40 dB")
	src = src[:strings.Index(src, "promise:")] + "board: {}\n"
	b := compile(t, src)
	s := text(t, b)
	tidy(t, "report", s)
	running := strings.ToLower(strings.Join(strings.Fields(s), " "))
	for _, bad := range []string{"0 rates", "number format", "khz float", "converter", "coefficient", "full-scale", "dbfs", "l1 bound", "pole margin", "make-up", "digital", "sampl"} {
		if strings.Contains(running, bad) {
			t.Errorf("the report of an analog product has %q:\n%s", bad, s)
		}
	}
	for _, want := range []string{"2 ways on a board, all 2 combinations of settings", "clips from", "DC-coupled", "bandwright explain --board"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is missing in\n%s", want, s)
		}
	}
}

// Where no board can be built, an analog product is not advised to do without.
func TestAnalogProductWithoutBoard(t *testing.T) {
	const src = "{bandwright: 1, name: x, ways: {x: {filters: [{peak: {at: 40 Hz, q: 40, gain: 20 dB}}]}}, board: {}"
	const advice = "leave `board` out"
	for spec, want := range map[string]bool{src + "}": false, src + ", digital: {rates: [48 kHz], formats: [float32]}}": true} {
		s := text(t, compile(t, spec))
		tidy(t, "report", s)
		running := strings.Join(strings.Fields(s), " ")
		if strings.Contains(running, advice) != want || !strings.Contains(running, "change the filter, or widen the board's stock") {
			t.Errorf("%s: advice to %s: want %v\n%s", spec, advice, want, s)
		}
	}
}

// Detail is what explain prints: no table of forms or of stages here.
func TestDetailIsElsewhere(t *testing.T) {
	src, err := os.ReadFile("../../specs/dabchick.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b := compile(t, string(src))
	s := text(t, b)
	form, err := explain.Text(b, "")
	if err != nil {
		t.Fatal(err)
	}
	stages, err := explain.Board(b, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ detail, in string }{{"rejected forms", form}, {"topology", stages}, {"sallen-key-high-pass", stages}} {
		note := false
		for _, l := range strings.Split(s, "\n") {
			if note = strings.HasPrefix(l, "  * ") || note && strings.HasPrefix(l, "    "); note {
				continue
			}
			if strings.Contains(l, x.detail) {
				t.Errorf("the report has %q: %s", x.detail, l)
			}
		}
		if !strings.Contains(x.in, x.detail) {
			t.Errorf("explain has no %q", x.detail)
		}
	}
	for _, c := range b.Board.Chains() {
		if !strings.Contains(stages, "\n  "+b.Board.NameOf(c)) {
			t.Errorf("explain --board has no table of %s", b.Board.NameOf(c))
		}
	}
}

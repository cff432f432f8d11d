package layout_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
	"bandwright/targets"
	"bandwright/targets/layout"
)

// dunlin is the shipped spec whose three layouts cover every way to write words.
const dunlin = "../../specs/dunlin.yaml"

// built compiles a spec's text.
func built(t *testing.T, text string) *compiler.Build {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "dunlin.yaml", []byte(text), nil)
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

func shipped(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(dunlin)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// job is a layout that Python runs.
type job struct {
	File, As, Form                    string
	Word, Fraction, Data, Accumulator int
	Nearest, Plus                     bool
	Order                             []string
	Hz                                []float64
	Gains                             [][]float64 // [way][frequency], dB
	Samples                           [][]int64   // [way], for noise in
}

// jobsOf are the layouts of a build whose files are in dir, with what Python has to find: the response
// and the samples of noise.
func jobsOf(b *compiler.Build, dir string) []job {
	hz := biquad.Spaced(100, 20000, 30)
	var jobs []job
	const frames = 400
	for _, d := range b.Digital {
		if d.Laid == nil {
			continue
		}
		l := d.Laid.Layout
		ending := map[string]string{"c": ".h", "hex": ".txt", "binary": ".bin"}[l.As]
		j := job{filepath.Join(dir, "dunlin_"+l.Name+ending), l.As, l.Form, l.Word, l.Fraction, l.Data, l.Accumulator, l.Nearest, l.Plus, l.Order, hz, nil, nil}
		h := make([]complex128, len(hz))
		for k, c := range d.Laid.Chains {
			biquad.DigitalAt(h, d.System.Path(k), biquad.Combination{0}, d.RateHz, hz)
			var db []float64
			for _, v := range h {
				db = append(db, biquad.DB(v))
			}
			j.Gains = append(j.Gains, db)
			x := make([]int64, frames)
			for i := range x {
				x[i] = c.Sample(float64((i*7919)%211-105) / 128)
			}
			c.NewMachine(biquad.Combination{0}).Run(x)
			j.Samples = append(j.Samples, x)
		}
		jobs = append(jobs, j)
	}
	return jobs
}

// runner is Python's side.
const runner = `
import json, re, sys, cmath, math
def wrap(v, n): return (v + (1 << n - 1)) % (1 << n) - (1 << n - 1)
def rows_of(j):
    """(way, position, with, words) of every row"""
    out = []
    if j["As"] == "c":
        way = None
        for line in open(j["File"]):
            m = re.match(r"/\* 48000 Hz, (\S+) \*/", line)
            if m: way = m.group(1)
            m = re.match(r"    \{ (.*?) \},? /\* (\d+) (.*) \*/", line)
            if m: out.append((way, int(m.group(2)), m.group(3), [int(v) for v in m.group(1).split(",")]))
        return out
    text = open(j["File"].replace(".bin", ".txt"))
    data = open(j["File"], "rb").read() if j["As"] == "binary" else None
    n = (j["Word"] + 7) // 8
    for line in text:
        m = re.match(r"# 48000 Hz, (\S+)$", line)
        if m: way = m.group(1)
        m = re.match(r"([0-9a-f ]+)# (\d+) (.*)", line)
        if not m: continue
        if data is not None:
            at = int(m.group(1), 16)
            words = [int.from_bytes(data[at+i*n:at+(i+1)*n], "big", signed=True) for i in range(5)]
        else:
            words = [wrap(int(v, 16), j["Word"]) for v in m.group(1).split()]
        out.append((way, int(m.group(2)), m.group(3), words))
    return out
for j in json.load(sys.stdin):
    A, F, D = j["Accumulator"], j["Fraction"], j["Data"]
    def down(s):
        if j["Nearest"]: s = wrap(s + (1 << F - 1), A)
        return max(-(1 << D - 1), min((1 << D - 1) - 1, s >> F))
    rows = [r for r in rows_of(j) if "with placement shelf" not in r[2]]
    for k, way in enumerate(("woofer", "tweeter")[:len(j["Samples"])]):
        mine = [dict(zip(j["Order"], r[3])) for r in rows if r[0] == way]
        worst = 0
        for f, want in zip(j["Hz"], j["Gains"][k]):
            z = cmath.exp(-2j * math.pi * f / 48000)
            h = 1
            for w in mine:
                s = -1 if j["Plus"] else 1
                h *= (w["b0"] + w["b1"]*z + w["b2"]*z*z) / (2**F + s*w["a1"]*z + s*w["a2"]*z*z)
            worst = max(worst, abs(20 * math.log10(abs(h)) - want))
        x = [max(-(1 << D - 1), min((1 << D - 1) - 1, round(((i*7919) % 211 - 105) / 128 * 2**(D-1)))) for i in range(len(j["Samples"][k]))]
        for w in mine:
            s = 1 if j["Plus"] else -1
            x1 = x2 = y1 = y2 = s1 = s2 = 0
            for n, v in enumerate(x):
                if j["Form"] == "direct-1":
                    y = down(wrap(w["b0"]*v + w["b1"]*x1 + w["b2"]*x2 + s*w["a1"]*y1 + s*w["a2"]*y2, A))
                    x2, x1, y2, y1 = x1, v, y1, y
                else:
                    y = down(wrap(w["b0"]*v + s1, A))
                    s1, s2 = wrap(s2 + w["b1"]*v + s*w["a1"]*y, A), wrap(w["b2"]*v + s*w["a2"]*y, A)
                x[n] = y
        print(j["As"], way, len(mine), "response" if worst < 1e-9 else "response off by %g dB" % worst, "samples" if x == j["Samples"][k] else "other samples")
`

// Python reads the words out of the emitted files and runs them in integers, the equations
// written out once more: the response of a small impulse's transform is the one that the
// promises were judged by, and noise comes out of the same samples.
func TestPythonRunsWhatIsEmitted(t *testing.T) {
	lines := pythonRuns(t, built(t, shipped(t)))
	for _, line := range lines {
		if !strings.HasSuffix(line, " response samples") {
			t.Error(line)
		}
	}
	if len(lines) != 2*3 {
		t.Errorf("%d ways: %q", len(lines), lines)
	}
}

// pythonRuns is what Python says of each way of each layout.
func pythonRuns(t *testing.T, b *compiler.Build) []string {
	t.Helper()
	files, err := layout.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	in, err := json.Marshal(jobsOf(b, dir))
	if err != nil {
		t.Fatal(err)
	}
	run := exec.Command("/usr/bin/python3", "-c", runner)
	run.Stdin = strings.NewReader(string(in))
	out, err := run.CombinedOutput()
	if err != nil {
		t.Fatalf("python3 (Debian package python3): %v\n%s", err, out)
	}
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}

// The emitted C array compiles without a warning.
func TestHeaderCompiles(t *testing.T) {
	files, err := layout.Emit(built(t, shipped(t)))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	main := "#include \"dunlin_core.h\"\nint main(void) { return dunlin_core_48000_woofer[0][0] + dunlin_core_48000_tweeter[0][0] == 0; }\n"
	if err := os.WriteFile(filepath.Join(dir, "main.c"), []byte(main), 0o644); err != nil {
		t.Fatal(err)
	}
	cc := exec.Command("gcc", "-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-o", "main", "main.c")
	cc.Dir = dir
	if out, err := cc.CombinedOutput(); err != nil {
		t.Fatalf("gcc (Debian package gcc): %v\n%s", err, out)
	}
}

// What the advice on a broken promise names keeps it, and a bit less does not.
func TestTheAdviceWasTried(t *testing.T) {
	text := strings.Replace(shipped(t), "noise: -90 dBFS", "noise: -110 dBFS", 1)
	text = strings.Replace(text, "word: 28 bit, fraction: 23 bit", "word: 22 bit, fraction: 17 bit", 1)
	b := built(t, text)
	advised := map[string]string{}
	for _, f := range broken(b, "converter") {
		advised[f.Promise] = f.Remedy
	}
	var samples, word, fraction int
	if _, err := fmt.Sscanf(advised["noise"], "take samples of %d bits", &samples); err != nil {
		t.Fatalf("noise: %q", advised["noise"])
	}
	if _, err := fmt.Sscanf(advised["magnitude"], "take words of %d bits with %d behind", &word, &fraction); err != nil {
		t.Fatalf("magnitude: %q", advised["magnitude"])
	}
	breaks := func(promise string, samples, word, fraction int) bool {
		x := strings.Replace(text, "word: 22 bit, fraction: 17 bit, data: 24 bit, accumulator: 56 bit",
			fmt.Sprintf("word: %d bit, fraction: %d bit, data: %d bit, accumulator: 90 bit", word, fraction, samples), 1)
		return slices.ContainsFunc(broken(built(t, x), "converter"), func(f verify.Finding) bool { return f.Promise == promise })
	}
	if breaks("noise", samples, 22, 17) || !breaks("noise", samples-1, 22, 17) {
		t.Errorf("noise: %d bits are not the fewest that keep it", samples)
	}
	if breaks("magnitude", 24, word, fraction) || !breaks("magnitude", 24, word-1, fraction-1) {
		t.Errorf("magnitude: words of %d bits are not the narrowest that keep it", word)
	}
}

// A corner at 20 Hz in short words: the advice to split it into first-order parts keeps
// the promise that was broken, Python finds the same in the emitted words, and where no section can
// be split, or all are, it is not given.
func TestFirstOrderPartsAreAdvisedWhereTheyKeepIt(t *testing.T) {
	const text = `bandwright: 1
name: dunlin
ways: {woofer: {filters: [{high-pass: {family: critically-damped, order: 2, at: 20 Hz}}]}}
promise: {magnitude: 0.05 dB, noise: -100 dBFS, headroom: off}
digital: {rates: [48 kHz], formats: [float32], layouts: [{name: short, word: 20 bit, fraction: 18 bit, data: 32 bit, accumulator: 60 bit, as: hex}]}
`
	advice := func(text string) string {
		var out string
		for _, f := range broken(built(t, text), "short") {
			out += f.Promise + ": " + f.Remedy
		}
		return out
	}
	if got := advice(text); !strings.HasPrefix(got, "magnitude: write `first-order: true`, 1 section more of the first order; or take words of ") {
		t.Errorf("%q", got)
	}
	split := strings.Replace(text, "as: hex", "as: hex, first-order: true", 1)
	if got := advice(split); got != "" {
		t.Errorf("the advice was followed: %q", got)
	}
	if lines := pythonRuns(t, built(t, split)); len(lines) != 1 || !strings.HasSuffix(lines[0], " response samples") {
		t.Errorf("%q", lines)
	}
	for _, other := range []string{strings.Replace(text, "critically-damped", "butterworth", 1), strings.Replace(split, "0.05 dB", "0.0001 dB", 1)} {
		if got := advice(other); got == "" || strings.Contains(got, "first-order") {
			t.Errorf("%q", got)
		}
	}
	// What an engine cannot hold, too.
	_, faults, _ := compiler.Compile(context.Background(), "dunlin.yaml", []byte(strings.Replace(text, "word: 20 bit, fraction: 18 bit", "word: 17 bit, fraction: 15 bit", 1)), nil)
	if len(faults) != 1 || faults[0].Right != "with first-order: true it would" {
		t.Errorf("%v", faults)
	}
}

// Another order of the sections is advised where it keeps what is broken, with the layout's own words, or where it brings it
// clearly nearer, which is then told; followed, it does, and Python finds the same in the words. Where it brings little it is not named.
func TestAnotherOrderIsAdvisedWhereItHelps(t *testing.T) {
	const text = `bandwright: 1
name: dunlin
ways:
  woofer:
    filters: [{low-pass: {family: butterworth, order: 2, at: 300 Hz}}, {peak: {at: 60 Hz, q: 2, gain: 9 dB}}, {peak: {at: 130 Hz, q: 1, gain: -12 dB}}, {high-pass: {family: butterworth, order: 2, at: 30 Hz}}, {low-shelf: {at: 90 Hz, q: 0.7, gain: 9 dB}}]
promise: {magnitude: 0.1 dB, noise: -68 dBFS, headroom: off}
digital: {rates: [48 kHz], formats: [float32], layouts: [{name: short, word: 34 bit, fraction: 29 bit, data: 24 bit, accumulator: 76 bit, rounding: nearest, as: hex}]}
`
	const low = `bandwright: 1
name: dunlin
ways:
  woofer:
    gain: -20 dB
    filters: [{high-pass: {family: butterworth, order: 2, at: 25 Hz}}, {peak: {at: 45 Hz, q: 2, gain: 6 dB}}, {low-pass: {family: butterworth, order: 4, at: 80 Hz}}]
promise: {magnitude: 0.05 dB, noise: -100 dBFS, headroom: off}
digital: {rates: [48 kHz], formats: [float32], layouts: [{name: short, word: 28 bit, fraction: 25 bit, data: 32 bit, accumulator: 72 bit, as: hex}]}
`
	advice := func(text string) (out string) {
		for _, f := range broken(built(t, text), "short") {
			out += f.Promise + " " + f.Unit.Measured(f.Worst) + ": " + f.Remedy
		}
		return out
	}
	for _, c := range []struct{ text, order, want string }{
		{text, "quietest", "noise -64.8 dBFS: write `sections: quietest`, another order of the same sections; or take samples of "},
		{low, "truest", "magnitude 0.0959 dB: write `sections: truest`, another order of the same sections; or take words of 29 bits"},
	} {
		if got := advice(c.text); !strings.HasPrefix(got, c.want) {
			t.Errorf("%q", got)
		}
		b := built(t, strings.Replace(c.text, "as: hex", "as: hex, sections: "+c.order, 1))
		if left := broken(b, "short"); len(left) > 0 {
			t.Errorf("%s was followed: %v", c.order, left)
		}
		if lines := pythonRuns(t, b); len(lines) != 1 || !strings.HasSuffix(lines[0], " response samples") {
			t.Errorf("%q", lines)
		}
	}
	far := strings.Replace(text, "-68 dBFS", "-82 dBFS", 1)
	if got, want := advice(far), "; or write `sections: quietest`, another order of the same sections, which alone brings noise of woofer from -64.8 dBFS to -69.8 dBFS only"; !strings.HasSuffix(got, want) {
		t.Errorf("%q", got)
	}
	for _, other := range []string{
		strings.Replace(text, "-68 dBFS", "-100 dBFS", 1),                 // 5 of 35 dB
		strings.Replace(far, "as: hex", "as: hex, sections: quietest", 1), // it is so already
		strings.NewReplacer("{high-pass: {family: butterworth, order: 2, at: 25 Hz}}, {peak: {at: 45 Hz, q: 2, gain: 6 dB}}, ", "", "order: 4", "order: 2",
			"0.05 dB", "0.0001 dB").Replace(low), // one section has one order
	} {
		if got := advice(other); got == "" || strings.Contains(got, "sections:") {
			t.Errorf("%q", got)
		}
	}
	// Wider samples that would break another promise are not advised: 28 bits here, with which other sections come last.
	rumble := strings.Replace(shipped(t), "at: 70 Hz", "at: 12 Hz", 1)
	left := broken(built(t, rumble), "converter")
	bits := regexp.MustCompile(`^take samples of (\d+) bits`).FindStringSubmatch(left[0].Remedy)
	if len(left) != 1 || bits == nil {
		t.Fatalf("%+v", left)
	}
	if left := broken(built(t, strings.Replace(rumble, "data: 24 bit", "data: "+bits[1]+" bit", 1)), "converter"); len(left) > 0 {
		t.Errorf("with %s bits: %+v", bits[1], left)
	}
}

// A spec with engines alone is judged by their words, and writes them and no C; one with neither formats nor engines says what it lacks.
func TestLayoutsAlone(t *testing.T) {
	alone := strings.Replace(shipped(t), "  formats: [float32]\n", "", 1)
	b := built(t, alone)
	if len(b.Findings) == 0 || slices.ContainsFunc(b.Findings, func(f verify.Finding) bool { return strings.Contains(f.Realisation, "float") }) {
		t.Errorf("%+v", b.Findings)
	}
	files, err := targets.Emit(b, nil)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
	}
	if got := strings.Join(names, " "); strings.Contains(got, "float") || !strings.Contains(got, "dunlin_converter.txt dunlin_core.h dunlin_memory.bin") {
		t.Error(got)
	}
	_, faults, _ := compiler.Compile(context.Background(), "dunlin.yaml", []byte(alone[:strings.Index(alone, "  layouts:")]), nil)
	if len(faults) != 1 || faults[0].Message != "`digital` lacks `formats` and `layouts`" {
		t.Errorf("%v", faults)
	}
}

// broken are the promises that an engine breaks.
func broken(b *compiler.Build, name string) []verify.Finding {
	var out []verify.Finding
	for _, f := range b.Findings {
		if !f.Kept && strings.HasSuffix(f.Realisation, " "+name) {
			out = append(out, f)
		}
	}
	return out
}

// Gain, headroom and polarity are in the words, and the delay is told.
func TestLevels(t *testing.T) {
	text := strings.Replace(shipped(t), "  rates: [48 kHz]", "  headroom: 6 dB\n  rates: [48 kHz]", 1)
	text = strings.Replace(text, "    gain: -3 dB\n", "    gain: -3 dB\n    polarity: inverted\n", 1)
	b := built(t, text)
	for _, d := range b.Digital {
		if d.Laid == nil {
			continue
		}
		c := d.Laid.Chains[1]
		// At 10 kHz the tweeter passes with its gain, behind the attenuation.
		h := make([]complex128, 1)
		path := c.Path(1, d.RateHz)
		path.Gain, path.DelayS = 1, 0
		biquad.DigitalAt(h, path, biquad.Combination{0}, d.RateHz, []float64{12000})
		if db := biquad.DB(h[0]); math.Abs(db-(-3-6)) > 0.1 {
			t.Errorf("%s: %.2f dB at 12 kHz", d.Name(), db)
		}
		if c.DelaySamples != d.DelaySamples(d.System.Ways[1].Cascade) || c.DelaySamples == 0 {
			t.Errorf("%s: %d samples of delay", d.Name(), c.DelaySamples)
		}
	}
}

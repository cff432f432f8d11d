package targets_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	yaml "github.com/goccy/go-yaml"

	"bandwright/compiler"
	"bandwright/compiler/compilertest"
	"bandwright/compiler/language"
	"bandwright/compiler/result"
	"bandwright/compiler/verify"
)

// outcomes are those of specs that others are compared with, each compiled once.
var outcomes = map[string]string{}

// reference is the outcome of a spec of the tree, without advice, that others are compared with.
func reference(t *testing.T, src string) string {
	t.Helper()
	if outcomes[src] == "" {
		outcomes[src] = written(t, compiledBy(t, compiler.Findings, src))
	}
	return outcomes[src]
}

// compiled is what comes of a spec that is meant to be good.
func compiled(t *testing.T, src string) *compiler.Build { return compiledBy(t, compiler.Compile, src) }

// compiledBy is compiled by one of the functions of package compiler.
func compiledBy(t *testing.T, compile func(context.Context, string, []byte, fs.FS) (*compiler.Build, []language.Fault, error), src string) *compiler.Build {
	t.Helper()
	b, faults, err := compile(context.Background(), "test.yaml", []byte(src), os.DirFS("../specs"))
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	return b
}

// outcome is everything that a spec gives but for the hash of its bytes.
func outcome(t *testing.T, src string) string { return written(t, compiled(t, src)) }

// written is NAME.json but for the hash of the spec's bytes and the places in its text.
func written(t *testing.T, b *compiler.Build) string {
	t.Helper()
	r := result.Of(b)
	r.SpecSHA256 = ""
	for i := range r.Warnings { // their places are the text's
		r.Warnings[i].Line, r.Warnings[i].Column = 0, 0
	}
	text, err := r.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// sameOutcome demands that a spec gives want to the last bit.
func sameOutcome(t *testing.T, what, want, src string) {
	t.Helper()
	same(t, what, want, outcome(t, src), src)
}

// sameAs demands that a spec gives the same as one of the tree, but for advice: that is of what was parsed, where
// Parse(Format(s)) = s by the tests of package language, and is compared on plainSpec.
func sameAs(t *testing.T, what, tree, src string) {
	t.Helper()
	same(t, what, reference(t, tree), written(t, compiledBy(t, compiler.Findings, src)), src)
}

func same(t *testing.T, what, want, got, src string) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %s\n%s", what, compilertest.FirstDifference(got, want), src)
	}
}

// plainSpec has a quantity of every dimension and every kind of value.
const plainSpec = `bandwright: 1
name: knot
settings:
  wall: [far, near]
common:
  - low-shelf: {at: 200 Hz, gain: -3 dB, when: {wall: near}}
ways:
  bass:
    filters:
      - notch: {at: 1.5 kHz, q: 4, depth: 12 dB}
      - rational: {at: 900 Hz, numerator: [1.25, 0.9, 1], denominator: [1, 0.9, 1]}
      - delay: {by: 0.25 ms}
    gain: -4 dB
    delay: 31 mm
  treble:
    filters:
      - gain: {by: 1.5 dB}
    delay: 0.09 ms
crossovers:
  - {between: [bass, treble], family: LR, order: 4, at: 2.3 kHz}
promise: {band: 20 Hz to 20 kHz, magnitude: 0.3 dB, phase: 5 deg, noise: -110 dBFS, latency: 20 ms, headroom: off}
digital: {rates: [44.1 kHz], formats: [float32], channels: 2, headroom: 6 dB, method: magnitude-matched}
`

// The same quantities in other units and spellings mean the same numbers, to
// the last bit.
func TestEquivalentUnits(t *testing.T) {
	want := outcome(t, plainSpec)
	for _, c := range []struct {
		what, from string
		to         []string
	}{
		{"a corner", "at: 2.3 kHz", []string{"at: 2300 Hz", "at: 0.0023 MHz", "at: 2.3e3 Hz", "at: 2.3kHz", "at: 2.3\u00a0kHz", "at: +2.30 kHz", `at: "2.3 kHz"`, "at: '2300Hz'", "at: 23E-1 kHz"}},
		{"a shelf", "at: 200 Hz", []string{"at: 0.2 kHz", "at: 2e2 Hz"}},
		{"a rate", "44.1 kHz", []string{"44100 Hz", "0.0441 MHz"}},
		{"a band", "20 Hz to 20 kHz", []string{"0.02 kHz to 20000 Hz", "20Hz to 0.02MHz", "2e1 Hz to 2e1 kHz"}},
		{"a level", "gain: -4 dB", []string{"gain: -4.0 dB", "gain: -40e-1 dB", "gain: -4dB"}},
		{"a length", "31 mm", []string{"3.1 cm", "0.031 m", "31e-3 m"}},
		{"a time", "0.09 ms", []string{"90 us", "90 \u00b5s", "90 \u03bcs", "9e-5 s", "0.00009 s"}},
		{"a filter's delay", "0.25 ms", []string{"250 us", "0.00025 s"}},
		{"a limit of time", "20 ms", []string{"0.02 s", "20000 us"}},
		{"an angle", "5 deg", []string{"5.0 deg", "50e-1deg"}},
		{"a whole number", "order: 4", []string{"order: 4.0", "order: +4", "order: 4e0"}},
		{"a plain number", "q: 4", []string{"q: 4.0", "q: 0.4e1"}},
		{"a coefficient", "1.25,", []string{"1.250,", "125e-2,", "+1.25,"}},
	} {
		if strings.Count(plainSpec, c.from) != 1 {
			t.Fatalf("%q stands %d times in the spec", c.from, strings.Count(plainSpec, c.from))
		}
		for _, to := range c.to {
			sameOutcome(t, c.what+": "+to, want, strings.Replace(plainSpec, c.from, to, 1))
		}
	}
	// And another number means something else, or the test would not notice.
	if want == outcome(t, strings.Replace(plainSpec, "31 mm", "31.001 mm", 1)) {
		t.Error("a changed delay changes nothing")
	}
}

// What only a reader of the file sees changes nothing.
func TestLayoutDoesNotMatter(t *testing.T) {
	want := outcome(t, plainSpec)
	commented := strings.ReplaceAll(plainSpec, "\n", "   # a comment: {[\n# another\n\n")
	anchored := strings.NewReplacer(
		"notch: {at: 1.5 kHz", "notch: {at: &corner 1.5 kHz",
		"numerator: [1.25, 0.9, 1]", "numerator: [1.25, &half 0.9, 1]",
		"denominator: [1, 0.9, 1]", "denominator: [1, *half, 1]",
		"gain: {by: 1.5 dB}", "gain: &up {by: 1.5 dB}").Replace(plainSpec)
	for what, src := range map[string]string{
		"comments":     commented,
		"anchors":      anchored,
		"carriage":     strings.ReplaceAll(plainSpec, "\n", "\r\n"),
		"byte order":   "\ufeff" + plainSpec,
		"document":     "---\n" + plainSpec + "...\n",
		"trailing":     strings.ReplaceAll(plainSpec, "\n", "  \n"),
		"no last line": strings.TrimSuffix(plainSpec, "\n"),
	} {
		if src == plainSpec {
			t.Fatal(what)
		}
		sameOutcome(t, what, want, src)
	}
	repeated := strings.Replace(plainSpec, "- gain: {by: 1.5 dB}", "- gain: {by: 1.5 dB}\n      - notch: {at: 1.5 kHz, q: 4, depth: 12 dB}", 1)
	aliased := strings.Replace(strings.Replace(repeated, "notch: {", "notch: &hum {", 1), "notch: {at: 1.5 kHz, q: 4, depth: 12 dB}", "notch: *hum", 1)
	if !strings.Contains(aliased, "*hum") {
		t.Fatal(aliased)
	}
	sameOutcome(t, "aliases", outcome(t, repeated), aliased)
	// The canonical layout, of every spec of the tree.
	m := newMutator(t, "bilinear")
	for _, tokens := range m.specs {
		src := strings.Join(tokens, "")
		s, faults := language.Parse("x", []byte(src), compiler.Language())
		if s == nil {
			t.Fatal(faults)
		}
		sameAs(t, "canonical", src, string(language.Format(s, compiler.Language())))
	}
}

// The order of keys means nothing, but for ways and settings, whose order is
// part of what they say.
func TestKeyOrderDoesNotMatter(t *testing.T) {
	for _, tokens := range newMutator(t, "bilinear").specs {
		src := strings.Join(tokens, "")
		var tree yaml.MapSlice
		if err := yaml.UnmarshalWithOptions([]byte(src), &tree, yaml.UseOrderedMap()); err != nil {
			t.Fatal(err)
		}
		reversed := turned(tree, "")
		if slices.Index(strings.Split(reversed, "\n"), `bandwright: 1`) == 0 {
			t.Fatalf("not turned:\n%s", reversed)
		}
		sameAs(t, "reversed keys", src, reversed)
	}
}

// turned is a value in braces with the keys of every mapping in reverse order
// but for the mapping under keep.
func turned(v any, under string) string {
	switch v := v.(type) {
	case yaml.MapSlice:
		var all []string
		for _, e := range v {
			key := fmt.Sprint(e.Key)
			all = append(all, key+": "+turned(e.Value, key))
		}
		if under != "ways" && under != "settings" {
			slices.Reverse(all)
		}
		if under == "" {
			return strings.Join(all, "\n") + "\n"
		}
		return "{" + strings.Join(all, ", ") + "}"
	case []any:
		var all []string
		for _, x := range v {
			all = append(all, turned(x, "a list"))
		}
		return "[" + strings.Join(all, ", ") + "]"
	case string:
		return strconv.Quote(v)
	}
	return fmt.Sprint(v)
}

// scaledSpec is made for scaling: every frequency and time in it is written.
const scaledSpec = `bandwright: 1
name: octave
settings:
  trim: [low, high]
common:
  - high-pass: {at: 28 Hz, q: 0.8}
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 60 Hz, q: 0.9}, to: {at: 40 Hz, q: 0.7}}
      - roots: {zeros: [800 Hz], poles: [500 Hz], unity-at: 10 Hz}
      - peak: {at: 130 Hz, q: 2, gain: -3 dB}
    gain: -3 dB
  mid:
    filters:
      - dipole-lift: {from: 600 Hz, to: 250 Hz}
      - low-shelf: {at: 500 Hz, gain: 2 dB, when: {trim: high}}
    delay: 34.3 mm
  treble:
    filters:
      - high-shelf: {at: 9 kHz, gain: 2 dB}
      - delay: {by: 0.02 ms}
    delay: 0.15 ms
crossovers:
  - {between: [bass, mid], family: LR, order: 4, at: 320 Hz}
  - {between: [mid, treble], family: LR, order: 4, at: 2.8 kHz}
promise: {band: 20 Hz to 18 kHz, noise: off, headroom: off, latency: 30 ms}
digital: {rates: [44.1 kHz, 48 kHz], formats: [float64], method: METHOD}
`

var timed = regexp.MustCompile(`([0-9.]+) (Hz|kHz|ms|mm)\b`)

// Twice every frequency, with half of every time and length, is the same
// system an octave higher: the same errors in dB and degrees, at twice the
// frequency.
func TestOctaveHigher(t *testing.T) {
	// scaledWithin is how far errors may move, in dB or degrees: scaling by two
	// is exact in floating point, so that only sums with constants, such as the
	// grid's edges, round differently; a fit may end on another digit.
	const scaledWithin = 1e-9
	for _, method := range compiler.Language().Methods {
		src := strings.Replace(scaledSpec, "METHOD", method.Name, 1)
		n := 0
		higher := timed.ReplaceAllStringFunc(src, func(q string) string {
			n++
			text, unit, _ := strings.Cut(q, " ")
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasSuffix(unit, "Hz") {
				x *= 2
			} else {
				x /= 2
			}
			return strconv.FormatFloat(x, 'g', -1, 64) + " " + unit
		})
		if n < 20 {
			t.Fatalf("%d quantities", n)
		}
		a, b := compiled(t, src), compiled(t, higher)
		near := func(what string, x, y verify.Extreme) {
			if x.Known != y.Known || math.Abs(x.Value-y.Value) > scaledWithin ||
				math.Abs(x.Value) > 1e-6 && math.Abs(y.AtHz-2*x.AtHz) > 1e-6*x.AtHz {
				t.Errorf("%s, %s: %+v, an octave higher %+v", method.Name, what, x, y)
			}
		}
		for i, f := range a.Figures {
			g := b.Figures[i]
			near(f.Way+" magnitude", f.Magnitude, g.Magnitude)
			near(f.Way+" phase", f.Phase, g.Phase)
			if d := math.Abs(f.LatencyS - 2*g.LatencyS); d > 1e-12 || f.Sections != g.Sections {
				t.Errorf("%s, %s: latency %v and %v, %d and %d sections", method.Name, f.Way, f.LatencyS, g.LatencyS, f.Sections, g.Sections)
			}
		}
		for i, f := range a.Findings {
			if g := b.Findings[i]; f.Kept != g.Kept || f.Broken != g.Broken || f.Of != g.Of {
				t.Errorf("%s: %+v, an octave higher %+v", method.Name, f, g)
			}
		}
	}
}

// Every example that the schema gives for a kind of filter or a crossover
// compiles: what an editor proposes is right.
func TestSchemaExamplesCompile(t *testing.T) {
	type example struct{ Examples []json.RawMessage }
	var schema struct {
		Properties struct{ Crossovers example }
		Defs       struct {
			Filter struct{ Properties map[string]example }
		} `json:"$defs"`
	}
	if err := json.Unmarshal(language.Schema(compiler.Language()), &schema); err != nil {
		t.Fatal(err)
	}
	const head, tail = "bandwright: 1\nname: x\n", "\npromise: {magnitude: off, sum: off, phase: off, headroom: off}\ndigital: {rates: [48 kHz], formats: [float32], method: bilinear}\n"
	for _, k := range compiler.Language().Kinds {
		examples := schema.Defs.Filter.Properties[k.Name].Examples
		if len(examples) == 0 {
			t.Errorf("%s has no example", k.Name)
		}
		for _, e := range examples {
			compiled(t, head+"ways: {w: {filters: [{"+k.Name+": "+flow(t, e)+"}]}}"+tail)
		}
	}
	for _, e := range schema.Properties.Crossovers.Examples {
		compiled(t, head+"ways: {bass: {}, treble: {}}\ncrossovers: "+flow(t, e)+tail)
	}
}

// flow is JSON as YAML in brackets.
func flow(t *testing.T, text json.RawMessage) string {
	t.Helper()
	var b bytes.Buffer
	if err := json.Compact(&b, text); err != nil {
		t.Fatal(err)
	}
	return strings.NewReplacer(`":`, `": `, ",", ", ").Replace(b.String())
}

package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// humped is a two-way whose treble's filters are written in some way.
func humped(treble string) string {
	return `# Invented.
bandwright: 1
name: wren
ways:
  low: {gain: -1 dB}
  high:                # the treble
` + treble + `
crossovers:
  - {between: [low, high], family: LR, order: 4, at: 1.5 kHz}
digital: {rates: [48 kHz], formats: [float32]}   # the end
`
}

// hump is a measured response, flat but for a hump that a peak of 4 dB and Q 2 at 4 kHz
// would make.
func hump() string {
	var b strings.Builder
	b.WriteString("# Invented: Hz, dB\n")
	a := math.Pow(10, 4.0/40)
	for i := range 300 {
		f := 200 * math.Pow(100, float64(i)/299)
		x := f / 4000
		num, den := math.Hypot(1-x*x, x*a/2), math.Hypot(1-x*x, x/a/2)
		fmt.Fprintf(&b, "%.3f %.4f\n", f, 88+20*math.Log10(num/den))
	}
	return b.String()
}

// What is suggested is written behind the way's filters, however they are written, and
// nothing else changes; then nothing more is needed.
func TestSuggestWrites(t *testing.T) {
	const line = "peak: {at: 4 kHz, q: 1.9, gain: -3.9 dB}"
	for name, c := range map[string]struct{ before, after string }{
		"lines":            {"    filters:          # as heard\n      - peak: {at: 30 Hz, q: 1, gain: -1 dB}   # air\n\n    delay: 0.1 ms", "air\n      - " + line + "\n\n    delay"},
		"a line and more":  {"    filters:\n    - peak:\n        at: 30 Hz   # below\n        q: 1\n        gain: -1 dB\n    delay: 0.1 ms", "gain: -1 dB\n    - " + line + "\n    delay"},
		"brackets":         {"    filters: [{peak: {at: 30 Hz, q: 1, gain: -1 dB}}]", "gain: -1 dB}}, {" + line + "}]"},
		"no filters":       {"    delay: 0.1 ms   # of the flight", "# the treble\n    filters:\n      - " + line + "\n    delay"},
		"Windows's ending": {"    filters:\r\n      - peak: {at: 30 Hz, q: 1, gain: -1 dB}\r", "gain: -1 dB}\r\n      - " + line + "\r\n"},
	} {
		text := humped(c.before)
		dir := place(t, "wren.yaml", text, "m.txt", hump())
		r := bandwright(t, dir, "suggest", "wren.yaml", "high", "--response", "m.txt", "--within=0.3 dB", "--write")
		expect(t, name, r, exitKept, "1 filter: within ±0.", "- "+line, "written into wren.yaml")
		got := tree(t, dir)["wren.yaml"]
		if !strings.Contains(got, c.after) {
			t.Errorf("%s: %q is not in\n%s", name, c.after, got)
		}
		without := strings.NewReplacer("      - "+line+"\r\n", "", "      - "+line+"\n", "", "    - "+line+"\n", "", ", {"+line+"}", "").Replace(got)
		if name == "no filters" {
			without = strings.Replace(without, "    filters:\n", "", 1)
		}
		if without != text {
			t.Errorf("%s: more changed than was suggested:\n%s", name, got)
		}
		before := tree(t, dir)
		expect(t, name+", again", bandwright(t, dir, "suggest", "wren.yaml", "high", "--response", "m.txt", "--within=0.3 dB", "--write"), exitKept, "nothing is needed")
		same(t, name, dir, before)
	}
}

// A way's own high-pass is not boosted against: it is in the target, unless it is what makes the driver flat.
func TestSuggestKeepsOwnHighPass(t *testing.T) {
	const filters = "{high-pass: {at: 90 Hz, q: 1.2}}"
	text := strings.Replace(humped("    delay: 0.1 ms"), "low: {", "low: {filters: ["+filters+"], ", 1)
	var flat, inverse strings.Builder
	for i := range 200 {
		f := 10 * math.Pow(1000, float64(i)/199)
		x := f / 90 // |H|² of a high-pass with corner 1 and Q: x⁴ over (1-x²)² + x²/Q²
		fmt.Fprintf(&flat, "%.3f 88\n", f)
		fmt.Fprintf(&inverse, "%.3f %.4f\n", f, 88+10*math.Log10((math.Pow(1-x*x, 2)+x*x/1.44)/math.Pow(x, 4)))
	}
	dir := place(t, "wren.yaml", text, "flat.txt", flat.String(), "inverse.txt", inverse.String())
	expect(t, "a flat driver", bandwright(t, dir, "suggest", "wren.yaml", "low", "--response", "flat.txt"), exitKept, "crossovers and its own high-pass", "40.94 Hz to", "nothing is needed")
	r := bandwright(t, dir, "suggest", "wren.yaml", "low", "--response", "inverse.txt", "--from", "20 Hz")
	expect(t, "one that the high-pass makes flat", r, exitKept, "before the crossovers\n", "nothing is needed")
}

// A way in braces on one line gets its filters there.
func TestSuggestIntoBraces(t *testing.T) {
	dir := place(t, "wren.yaml", humped("    delay: 0.1 ms"), "m.txt", strings.ReplaceAll(hump(), "Invented", "Made up"))
	r := bandwright(t, dir, "suggest", "wren.yaml", "low", "--response", "m.txt", "--from", "1 kHz", "--to", "12 kHz", "--write")
	expect(t, "braces", r, exitKept, "written into")
	if got := tree(t, dir)["wren.yaml"]; !strings.Contains(got, "  low: {filters: [{peak: {at: 4") || !strings.Contains(got, "}}], gain: -1 dB}") {
		t.Error(got)
	}
}

// Every slip is told, and nothing is written.
func TestSuggestRefuses(t *testing.T) {
	dir := place(t, "wren.yaml", humped("    filters: []"), "m.txt", hump(), "bad.txt", "100 80\n90 80\n", "w/x", "")
	before := tree(t, dir)
	m := []string{"suggest", "wren.yaml", "high", "--response", "m.txt"}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"suggest", "wren.yaml"}, exitRefused, "there are low and high"},
		{[]string{"suggest", "wren.yaml", "hig"}, exitRefused, "did you mean `high`?"},
		{[]string{"suggest", "wren.yaml", "high"}, exitRefused, "nothing is known of the driver of `high`"},
		{[]string{"suggest", "wren.yaml", "high", "--response", "none.txt"}, exitRefused, "there is no file none.txt"},
		{[]string{"suggest", "wren.yaml", "high", "--response", "bad.txt"}, exitRefused, "bad.txt:2:1: error: 90 Hz stands behind 100 Hz"},
		{append(m, "--from", "3"), exitRefused, "has no unit"},
		{append(m, "--from", "30 kHz"), exitRefused, "known from 200 Hz to 20 kHz only"},
		{append(m, "--from", "6 kHz", "--to", "9 kHz"), exitRefused, "less than an octave"},
		{append(m, "--highest-q", "90"), exitRefused, "--highest-q is from 0.5 to 20"},
		{append(m, "--most", "0"), exitRefused, "--most is from 1 to 10"},
		{append(m, "--boost", "90 dB"), exitRefused, "--boost"},
		{append(m, "--target", "frob"), exitRefused, "--target: `frob` is not a filter; it takes a kind with its values, such as `high-pass: {family: LR, order: 4, at: 2 kHz}`; the kinds are low-pass, high-pass, "},
		{append(m, "--target", " "), exitRefused, "--target needs a value"},
		{append(m, "--most", "2.5"), exitRefused, "--most takes a whole number, not `2.5` (`bandwright suggest --help` shows how)"},
		{append(m, "--highest-q", "frob"), exitRefused, "--highest-q takes a number, not `frob` ("},
		{append(m, "--target", "high-pas: {at: 1 kHz}"), exitRefused, "did you mean `high-pass`?"},
		{append(m, "--target", "high-pass: {at: 1 kHz}"), exitRefused, "needs `family` or `q`"},
		{append(m, "--write", "--within", "0.3 dB"), exitRefused, "lines cannot be added to"},
		{append(m, "--target", "low-pass: {at: 500 Hz, q: 0.7}", "--boost", "0 dB", "--most", "1", "--within", "0.05 dB", "--to", "20 kHz", "--write"), exitBroken, "is not kept by 1 filter"},
	} {
		r := bandwright(t, dir, c.args...)
		expect(t, strings.Join(c.args, " "), r, c.code, c.want)
	}
	same(t, "refused", dir, before)
}

// A modelled driver needs no file: a closed box is moved down by its pole-shift.
func TestSuggestForModel(t *testing.T) {
	dir := place(t, "wren.yaml", `# Invented.
bandwright: 1
name: wren
drivers:
  woofer: {resonance: 29 Hz, q-electrical: 0.46, q-mechanical: 5.1, moving-mass: 48 g, area: 340 cm2, coil-resistance: 5.6 ohm}
ways:
  bass:
    driver: {model: woofer, mounting: sealed, volume: 38 l}
digital: {rates: [48 kHz], formats: [float32]}
`)
	r := bandwright(t, dir, "suggest", "wren.yaml", "bass", "--from", "45 Hz", "--to", "400 Hz", "--boost", "9 dB")
	expect(t, "model", r, exitKept, "the spec's driver", "1 filter", "caution: excursion and power rise with it")
}

// Where a crossover may lie is told for ways whose drivers are known.
func TestSuggestCorners(t *testing.T) {
	dir := place(t, "wren.yaml", humped("    delay: 0.1 ms"), "heron.yaml", "")
	expect(t, "no drivers", bandwright(t, dir, "suggest", "wren.yaml", "--corners"), exitRefused, "give both a `driver`")
	expect(t, "with a way", bandwright(t, dir, "suggest", "wren.yaml", "low", "--corners"), exitRefused, "no WAY")
	r := bandwright(t, "../..", "suggest", "specs/heron.yaml", "--corners")
	expect(t, "heron", r, exitKept, "bass and mid: ", "the spec has 260 Hz", "excursion: ", "pattern: within 3 dB of each other from ", "mid and treble: ")
}

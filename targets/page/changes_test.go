package page_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/result"
	"bandwright/targets/page"
)

// edited has a setting, filters and a board.
const edited = `bandwright: 1
name: moved
revision: A
settings: {wall: [free, near]}
ways: {low: {}, high: {}}
common: [{low-shelf: {at: 200 Hz, gain: -3 dB, q: 0.7, when: {wall: near}}}]
crossovers: [{between: [low, high], family: LR, order: 4, at: 1.9 kHz}]
digital: {rates: [44.1 kHz], formats: [float32]}
board: {supply: 15 V, input: {level: 2 V}, output: {build-out: 100 ohm, load: 10 kohm},
  op-amp: {gain-bandwidth: 10 MHz, open-loop-gain: 110 dB, output-resistance: 50 ohm},
  resistors: {series: E24, tolerance: 1 %}, capacitors: {series: E12, tolerance: 2 %}}
`

// changed opens pages that tell what changed: with an edit in a way, in what a setting does, and with nothing.
func changed(t *testing.T, b *browser, axe string) {
	old := acceptedOf(t, edited)
	for _, c := range []struct {
		name, from, to, says string
		drawings             int
	}{
		{"a corner", "1.9 kHz", "2.1 kHz", "changed since revision A was accepted, ", 6},
		{"a setting", "gain: -3 dB", "gain: -4 dB", "with wall near, because common[0].gain went from -3 dB to -4 dB", 6},
		{"nothing", "", "", "Nothing changed since revision A was accepted.", 0},
		{"words", "name: moved\n", "name: moved\ntitle: Moved\n", "1 thing changed", 0},
	} {
		p := madeSince(t, "moved", strings.Replace(edited, c.from, c.to, 1), old)
		b.open(t, p.url, 1280, "dark")
		text := evaluate[string](t, b, `document.getElementById("changes").innerText`)
		if !strings.Contains(text, c.says) {
			t.Errorf("%s: no %q in %.900s", c.name, c.says, text)
		}
		if n := evaluate[int](t, b, `document.querySelectorAll("#changes figure").length`); n != c.drawings {
			t.Errorf("%s: %d drawings", c.name, n)
		}
		figures(t, b, p)
		if c.drawings == 0 {
			if n := strings.Count(text, "No response of the "); n != 2 {
				t.Errorf("%s: %d sides of which no response moved:\n%s", c.name, n, text)
			}
			continue
		}
		drawn(t, b)
		for _, wall := range []string{"free", "near"} {
			b.choose(t, biquad.Combination{map[string]uint8{"free": 0, "near": 1}[wall]})
			replacedAs(t, b, c.name, map[string]string{"wall": wall}, old, result.Accept(p.build))
		}
		if c.name == "a corner" {
			accessible(t, b, axe)
			cursor(t, b)
			widths(t, b, p)
		}
	}
}

// replacedAs holds what is drawn of before and after against both results' own responses, of filters and of the board.
func replacedAs(t *testing.T, b *browser, name string, choices map[string]string, old, new *result.Accepted) {
	t.Helper()
	hz := evaluate[[]float64](t, b, `[...window.report.hz]`)
	of := func(a *result.Accepted, made int) [][]complex128 {
		if made == 1 {
			h, err := a.Board.Responses([]map[string]string{choices}, hz)
			if err != nil {
				t.Fatal(err)
			}
			return h[0]
		}
		d := &a.Digital[len(a.Digital)-1]
		return [][]complex128{d.Response(0, choices, hz), d.Response(1, choices, hz)}
	}
	for made, slack := range []float64{2e-5, 2e-4} { // what two evaluations of a board differ by
		was, now := of(old, made), of(new, made)
		for way := range 3 {
			kinds := []string{"level", "moved"}
			at := func(h [][]complex128, i int) float64 {
				if way == 2 {
					return biquad.DB(h[0][i] + h[1][i])
				}
				return biquad.DB(h[way][i])
			}
			if way == 2 {
				kinds = []string{"sum", "sum-moved"}
			}
			had := evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values(%q, %d, %d).map(v => Number.isNaN(v) ? 1e9 : v)`, kinds[0], way, -2-made))
			by := evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values(%q, %d, %d).map(v => Number.isNaN(v) ? 1e9 : v)`, kinds[1], way, made))
			told := 0
			for i := range hz {
				if v := at(was, i); had[i] != 1e9 && v > -60 && math.Abs(had[i]-v) > slack {
					t.Fatalf("%s, %v, way %d, side %d: %v dB before at %v Hz, not %v", name, choices, way, made, had[i], hz[i], v)
				}
				if by[i] == 1e9 {
					continue
				}
				told++
				if v := at(now, i) - at(was, i); math.Abs(by[i]-v) > slack {
					t.Fatalf("%s, %v, way %d, side %d: moved by %v dB at %v Hz, not %v", name, choices, way, made, by[i], hz[i], v)
				}
			}
			if told < len(hz)/3 {
				t.Errorf("%s, way %d, side %d: %d changes drawn", name, way, made, told)
			}
		}
	}
}

// TestNothingAccepted says how to have something to compare with, and takes no damaged result.
func TestNothingAccepted(t *testing.T) {
	b, faults, err := compiler.Compile(t.Context(), "broken", []byte(broken), nil)
	if err != nil || b == nil {
		t.Fatal(err, faults)
	}
	files, err := page.Emit(b)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"No accepted result was given to compare with.", "check SPEC --against accepted --accept"} {
		if !strings.Contains(string(files[0].Data), want) {
			t.Errorf("no %q", want)
		}
	}
	b.Before = []byte("{")
	if _, err := page.Emit(b); err == nil || !strings.Contains(err.Error(), "accepted result") {
		t.Errorf("a damaged accepted result: %v", err)
	}
}

package page_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/compare"
	"bandwright/compiler/result"
	"bandwright/targets/page"
)

// between opens the page of a comparison: of an edit, and of an analog and a digital version of one product.
func between(t *testing.T, b *browser, axe string) {
	spec := strings.Replace(broken, "name: broken\n", "name: moved\nsettings: {wall: [free, near]}\ncommon: [{low-shelf: {at: 200 Hz, gain: -3 dB, q: 0.7, when: {wall: near}}}]\n", 1)
	analog := strings.Replace(spec, "digital: {rates: [44.1 kHz], formats: [q23], method: bilinear}", `board: {supply: 15 V, input: {level: 2 V}, output: {build-out: 100 ohm, load: 10 kohm},
  op-amp: {gain-bandwidth: 10 MHz, open-loop-gain: 110 dB, output-resistance: 50 ohm},
  resistors: {series: E24, tolerance: 1 %}, capacitors: {series: E12, tolerance: 2 %}}`, 1)
	for _, c := range []struct{ name, old, new, says string }{
		{"an edit", spec, strings.Replace(spec, "1.9 kHz", "2.1 kHz", 1), "because crossovers[0].at went from 1.9 kHz to 2.1 kHz"},
		{"analog and digital", analog, spec, "board before and digital 44.1 kHz q23 after"},
	} {
		old, new := acceptedOf(t, c.old), acceptedOf(t, c.new)
		data, err := page.Between(old, new, compare.Results(old, new))
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "moved.html")
		if err := os.WriteFile(file, data, 0o666); err != nil {
			t.Fatal(err)
		}
		b.open(t, "file://"+file, 1280, "dark")
		if text := evaluate[string](t, b, "document.body.innerText"); !strings.Contains(text, c.says) {
			t.Errorf("%s: no %q in %.600s", c.name, c.says, text)
		}
		accessible(t, b, axe)
		if dots := evaluate[string](t, b, `getComputedStyle(document.querySelector(".marked li")).listStyleType`); dots != "none" {
			t.Errorf("a %s beside each change's own mark", dots)
		}
		drawn(t, b)
		cursor(t, b)
		b.choose(t, biquad.Combination{1})
		movedAs(t, b, c.name, old, new)
		widths(t, b, product{url: "file://" + file})
	}
}

func acceptedOf(t *testing.T, src string) *result.Accepted {
	t.Helper()
	b, faults, err := compiler.Compile(context.Background(), "moved.yaml", []byte(src), nil)
	if err != nil || b == nil {
		t.Fatalf("%v %v", err, faults)
	}
	return result.Accept(b)
}

// movedAs holds the drawn change of each way, with the wall near, against both results' own responses.
func movedAs(t *testing.T, b *browser, name string, old, new *result.Accepted) {
	t.Helper()
	hz := evaluate[[]float64](t, b, `[...window.report.hz]`)
	choices := map[string]string{"wall": "near"}
	side := func(a *result.Accepted) [][]complex128 {
		if a.Board != nil {
			h, err := a.Board.Responses([]map[string]string{choices}, hz)
			if err != nil {
				t.Fatal(err)
			}
			return h[0]
		}
		d := &a.Digital[len(a.Digital)-1]
		return [][]complex128{d.Response(0, choices, hz), d.Response(1, choices, hz)}
	}
	was, now := side(old), side(new)
	for way := range was {
		got := evaluate[[]float64](t, b, fmt.Sprintf(`window.report.values("error", %d, 0).map(v => Number.isNaN(v) ? 1e9 : v)`, way))
		n := 0
		for i, v := range got {
			if v == 1e9 {
				continue
			}
			n++
			if want := biquad.DB(now[way][i]) - biquad.DB(was[way][i]); math.Abs(v-want) > 1e-5+1e-5*math.Abs(want) {
				t.Fatalf("%s, way %d: %v dB at %v Hz, not %v", name, way, v, hz[i], want)
			}
		}
		if n < len(hz)/3 {
			t.Errorf("%s, way %d: %d changes drawn", name, way, n)
		}
	}
}

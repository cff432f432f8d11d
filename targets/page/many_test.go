package page_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/verify"
)

// many opens a page of a way that hangs on more settings than there are lists for: each choice by itself is drawn, and
// of two at once nothing is, which the drawing says; steps are run in all of them.
func many(t *testing.T, b *browser) {
	src := "bandwright: 1\nname: many\nsettings:\n"
	filters := ""
	for i := range 5 {
		src += fmt.Sprintf("  s%d: [a, b]\n", i)
		filters += fmt.Sprintf("    - peak: {at: %d Hz, q: 2, gain: -%d dB, when: {s%d: b}}\n", 200*(i+1), i+3, i)
	}
	p := made(t, "many", src+"ways:\n  only:\n    filters:\n"+filters+"digital: {rates: [48 kHz], formats: [float32]}\n")
	b.open(t, p.url, 1280, "light")
	note := func() string {
		return evaluate[string](t, b, `document.querySelector('[data-strip="noise"]').closest("figure").querySelector("[data-note]").textContent`)
	}
	for _, d := range p.build.Digital {
		if !d.Asked {
			continue
		}
		noise := d.Format.NewNoise(d.System, 0, d.InputGain, d.RateHz, 20, math.Min(20000, verify.TopOfRate*d.RateHz))
		for i := range 5 {
			c := make(biquad.Combination, 5)
			c[i] = 1
			b.choose(t, c)
			l := ownLines(t, b, "noise", "own")[0]
			sum := 0.0
			for i := 1; i < len(l.X); i++ {
				sum += (l.X[i] - l.X[i-1]) / 2 * (math.Pow(10, l.Y[i]/10) + math.Pow(10, l.Y[i-1]/10))
			}
			if got, want := 10*math.Log10(sum), noise.DBFS(c); math.Abs(got-want) > 0.05 || strings.Contains(note(), "Not drawn") {
				t.Errorf("%v: %.2f dB, want %.2f; %s", c, got, want, note())
			}
		}
	}
	c := biquad.Combination{1, 0, 1, 0, 0}
	b.choose(t, c)
	drawn := evaluate[string](t, b, `(() => { const s = document.querySelector('[data-strip="noise"]'); window.report.draw(s); return s.querySelector("[data-own]").getAttribute("d"); })()`)
	if l := ownLines(t, b, "noise", "own")[0]; len(l.X) > 0 || drawn != "" || !strings.Contains(note(), "s0: b, s1: a, s2: b") || !strings.Contains(note(), "Not drawn: only") {
		t.Errorf("with two settings changed: %q, %s", drawn, note())
	}
	d := p.index.Digital[len(p.index.Digital)-1]
	want := stepped(p, d, 0, 500, c)
	for _, l := range ownLines(t, b, "time", "own")[1:2] { // the digital step
		for i := range 400 {
			if math.Abs(l.Y[i]-want[i]) > 1e-9 {
				t.Errorf("with two settings changed the step is %v at %v ms, not %v", l.Y[i], l.X[i], want[i])
				return
			}
		}
	}
}

package compiler_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"bandwright/compiler"
	"bandwright/compiler/compilertest"
)

// extent says how large a spec is.
type extent struct {
	ways, filters, settings int // filters a way, one under each setting; settings of two choices
	rates                   string
	method                  string
}

// text is a spec of that extent: peaks all over the band, and a crossover
// between neighbours.
func (e extent) text() string {
	var b strings.Builder
	b.WriteString("bandwright: 1\nname: large\n")
	if e.settings > 0 {
		b.WriteString("settings:\n")
	}
	for i := range e.settings {
		fmt.Fprintf(&b, "  s%d: [out, in]\n", i)
	}
	b.WriteString("ways:\n")
	at := func(share float64) string { // 20 Hz to 20 kHz
		return strconv.FormatFloat(20*math.Exp2(share*math.Log2(1000)), 'g', 6, 64) + " Hz"
	}
	for w := range e.ways {
		fmt.Fprintf(&b, "  w%d:\n    filters:\n", w)
		for k := range e.filters {
			share := (float64(w*e.filters+k*7%e.filters) + 0.5) / float64(e.ways*e.filters)
			when := ""
			if k < e.settings {
				when = fmt.Sprintf(", when: {s%d: in}", k)
			}
			fmt.Fprintf(&b, "      - peak: {at: %s, q: %g, gain: %g dB%s}\n", at(share), 0.7+0.1*float64(k%30), float64(k%2*2-1)*(0.5+float64(k%5)/2), when)
		}
		if w%2 == 1 {
			b.WriteString("    polarity: inverted\n")
		}
	}
	if e.ways > 1 {
		b.WriteString("crossovers:\n")
	}
	for w := range e.ways - 1 {
		fmt.Fprintf(&b, "  - {between: [w%d, w%d], family: LR, order: 2, at: %s}\n", w, w+1, at(float64(w+1)/float64(e.ways)))
	}
	fmt.Fprintf(&b, "promise: {headroom: off}\ndigital: {rates: [%s], formats: [float32], method: %s}\n", e.rates, e.method)
	return b.String()
}

// extents are the largest specs that the language is to hold, by name. The
// first has ways of 40 sections, the crossovers' included.
var extents = []struct {
	name string
	extent
}{
	{"ways", extent{20, 38, 6, "44.1 kHz, 48 kHz, 96 kHz, 192 kHz", "bilinear"}},
	{"combinations", extent{2, 14, 12, "48 kHz", "bilinear"}},
}

// BenchmarkLimits is the time of the largest specs, with the most memory that
// the process has had so far: run one of them alone to read its own.
func BenchmarkLimits(b *testing.B) {
	for _, e := range extents {
		src := []byte(e.text())
		b.Run(e.name, func(b *testing.B) {
			for b.Loop() {
				if build, faults, err := compiler.Compile(context.Background(), e.name, src, nil); build == nil || err != nil {
					b.Fatal(faults, err)
				}
			}
			b.ReportMetric(mostMemory(b), "MB")
		})
	}
}

// mostMemory is what the kernel says the process has had at once, in MB.
func mostMemory(b *testing.B) float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		b.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	kb, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
	if err != nil {
		b.Fatal(err)
	}
	return kb / 1024
}

// TestMostCombinations compiles a way under as many combinations of settings as
// a spec may have, and finds every one of them judged.
func TestMostCombinations(t *testing.T) {
	const settings, combinations = 12, 4096
	b := compileSource(t, extent{ways: 1, filters: settings, settings: settings, rates: "48 kHz", method: "bilinear"}.text())
	found := false
	for _, f := range b.Findings {
		if f.Promise == "magnitude" {
			found = true
			if f.Of != combinations || f.Broken < 1 || f.Broken > combinations || len(f.With) != settings {
				t.Errorf("%+v", f)
			}
		}
	}
	if !found {
		t.Error("no finding on the magnitude")
	}
}

// TestLargeFit compiles by a fit what is beyond any loudspeaker: it ends at its
// bound, with every position realised and every number finite.
func TestLargeFit(t *testing.T) {
	b := compileSource(t, extent{ways: 6, filters: 12, rates: "48 kHz", method: "fit"}.text())
	for _, d := range b.Digital {
		for w, way := range d.System.Ways {
			if n := len(way.Slots); n < 12 {
				t.Errorf("way %d has %d positions", w, n)
			}
		}
		compilertest.Finite(t, d.Name(), reflect.ValueOf(d.System))
	}
}

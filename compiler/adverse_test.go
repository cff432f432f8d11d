package compiler_test

import (
	"math"
	"strings"
	"testing"

	"bandwright/biquad/discretize"
	"bandwright/compiler/verify"
)

// adverse are filters that a method may fail at: the answer must be finite and
// stable, and what it misses must stand in a finding.
var adverse = map[string]string{
	"corner at 0.49 of the rate":  "low-pass: {at: 23.52 kHz, family: butterworth, order: 4}",
	"high-pass at 0.49":           "high-pass: {at: 23.52 kHz, family: butterworth, order: 4}",
	"peak of Q 50 near the top":   "peak: {at: 19 kHz, q: 50, gain: 12 dB}",
	"peak of Q 50 at 20 Hz":       "peak: {at: 20 Hz, q: 50, gain: -12 dB}",
	"order 12 at 20 Hz":           "high-pass: {at: 20 Hz, family: butterworth, order: 12}",
	"order 12 low-pass at 20 Hz":  "low-pass: {at: 20 Hz, family: chebyshev, order: 12, ripple: 1 dB}",
	"ten coincident poles":        "low-pass: {at: 1 kHz, family: critically-damped, order: 10}",
	"near-cancelling sections":    "pole-shift: {from: {at: 1 kHz, q: 0.7}, to: {at: 1.000001 kHz, q: 0.7}}",
	"elliptic near half the rate": "low-pass: {at: 20 kHz, family: elliptic, order: 7, ripple: 0.1 dB, stop: 80 dB}",
	"complete notch at 20 kHz":    "notch: {at: 20 kHz, q: 10}",
	"right-half zeros":            "roots: {zeros: [{at: 5 kHz, q: 3, side: right}, 2 kHz], poles: [{at: 6 kHz, q: 1}, 1 kHz], unity-at: 0 Hz}",
}

// aboveHalf are prototypes whose corner no rate of the test reaches.
var aboveHalf = map[string]string{
	"shelf above half the rate":     "high-shelf: {at: 40 kHz, gain: 6 dB}",
	"low-pass above half the rate":  "low-pass: {at: 60 kHz, q: 0.7}",
	"high-pass above half the rate": "high-pass: {at: 30 kHz, q: 0.7}",
	"peak above half the rate":      "peak: {at: 30 kHz, q: 2, gain: 6 dB}",
}

func TestAdverseSpecs(t *testing.T) {
	for _, m := range discretize.Methods() {
		for _, set := range []map[string]string{adverse, aboveHalf} {
			for name, filter := range set {
				above := aboveHalf[name] != ""
				if above && m.BelowNyquist {
					continue
				}
				t.Run(m.Name+": "+name, func(t *testing.T) {
					t.Parallel()
					rates := "48 kHz, 192 kHz"
					if above {
						rates = "44.1 kHz"
					}
					b := compileSource(t, "bandwright: 1\nname: test\nways:\n  low: {filters: [{"+filter+"}]}\n  high: {}\n"+
						"crossovers: [{between: [low, high], family: LR, order: 4, at: 3 kHz}]\n"+
						"promise: {headroom: off}\ndigital: {rates: ["+rates+"], formats: [float32, float64], method: "+m.Name+"}\n")
					if above != (len(b.Warnings) == 1) {
						t.Errorf("warnings %v", b.Warnings)
					}
					for _, f := range b.Findings {
						if math.IsNaN(f.Worst) || math.IsInf(f.Worst, 0) {
							t.Errorf("%+v", f)
						}
						if f.Promise == "stability" && !f.Kept {
							t.Errorf("unstable: %+v", f)
						}
						if f.Kept == (f.Remedy != "") {
							t.Errorf("no word on %+v", f)
						}
					}
					for _, g := range b.Figures {
						// A miss must be a finding: the figure and the verdict agree.
						for _, f := range b.Findings {
							if f.Promise == "magnitude" && f.Realisation == g.Realisation && f.Way == g.Way &&
								f.Kept != (math.Abs(g.Magnitude.Value) <= f.Limit) {
								t.Errorf("figure %+v, finding %+v", g.Magnitude, f)
							}
						}
						if g.Way != verify.SumName && g.PoleMargin <= 0 {
							t.Errorf("%s: pole margin %g", g.Way, g.PoleMargin)
						}
					}
					for _, d := range b.Digital {
						for _, w := range d.System.Ways {
							for _, s := range w.Slots {
								for _, x := range append(s.Alt[0].B[:], s.Alt[0].A[:]...) {
									if math.IsNaN(x) || math.IsInf(x, 0) {
										t.Errorf("%s: %v", strings.Join(s.From, ", "), s.Alt[0])
									}
								}
							}
						}
					}
				})
			}
		}
	}
}

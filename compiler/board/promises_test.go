package board_test

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/verify"
)

// finding is the one on a promise of a way of the board.
func finding(t *testing.T, b *compiler.Build, promise, way string) verify.Finding {
	t.Helper()
	for _, f := range b.Findings {
		if f.Promise == promise && f.Way == way {
			return f
		}
	}
	t.Fatalf("no finding on %s of %s", promise, way)
	return verify.Finding{}
}

// The greatest gain above the band over that in the band, by the board's own
// response on a grid of 200 points an octave: a shelf that rises on above the band,
// and summing stages that resonate where their op-amps run out of gain.
func TestPeakAboveTheBand(t *testing.T) {
	const gainBandwidthHz = 10e6
	for filter, atLeast := range map[string]float64{
		"high-shelf: {at: 15 kHz, gain: 12 dB, q: 0.7}": 2.5,
		"notch: {at: 10 kHz, q: 2, topology: fliege}":   0.3,
		"low-pass: {at: 8 kHz, q: 0.7}":                 -100,
	} {
		b := build(t, strings.Replace(little("", "{"+filter+"}", ""), "headroom: off", "headroom: off, board-magnitude: off, board-peak: 0.1 dB", 1))
		f := finding(t, b, "board-peak", "only")
		greatest := func(lo, hi float64) float64 {
			hz := biquad.Octaves(lo, hi, 200)
			h := make([]complex128, len(hz))
			b.Board.On(hz).Response(h, 0, nil)
			top := math.Inf(-1)
			for _, v := range h {
				top = math.Max(top, biquad.DB(v))
			}
			return top
		}
		want := greatest(20e3, 10*gainBandwidthHz) - greatest(20, 20e3)
		if math.Abs(f.Worst-want) > 0.005 || f.Worst < atLeast || f.Kept != (want <= 0.1) {
			t.Errorf("%s: %+v, want %.3f dB", filter, f, want)
		}
		// Where the filter itself asks for it, its stage makes little of it.
		if says := map[string]string{"notch": "most of it in only stage 1, ", "high-": "less than half of it in any one place, "}[filter[:5]]; !strings.Contains(f.Note, says) {
			t.Errorf("%s: %q does not say %q", filter, f.Note, says)
		}
	}
}

// What is advised against a DC offset helps: each alternative alone keeps the
// promise, and a little less does not.
func TestOffsetAdvice(t *testing.T) {
	with := func(opAmp, output string) verify.Finding {
		src := strings.Replace(little("", "{pole-shift: {from: {at: 60 Hz, q: 1}, to: {at: 20 Hz, q: 0.7}}}", ""), "board: {}", "board: {op-amp: {"+opAmp+"}, output: {"+output+"}}", 1)
		return finding(t, build(t, src), "board-dc", "only")
	}
	f := with("offset: 5 mV, bias-current: 200 nA", "build-out: 100 ohm")
	advice := regexp.MustCompile(`board\.output\.coupling: (\S+ uF), or use an op-amp with (\S+) times less`).FindStringSubmatch(f.Remedy)
	if f.Kept || advice == nil {
		t.Fatalf("%+v", f)
	}
	if g := with("offset: 5 mV, bias-current: 200 nA", "coupling: "+advice[1]); !g.Kept || g.Worst > 1e-6 {
		t.Errorf("coupled by %s: %+v", advice[1], g)
	}
	less := f.Worst / f.Limit
	if said, err := strconv.ParseFloat(advice[2], 64); err != nil || said < less || said > less+0.1 {
		t.Errorf("%s times less is advised, and %.3f is needed", advice[2], less)
	}
}

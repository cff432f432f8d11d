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
		// A shelf of 12 dB at 15 kHz goes on rising above the band, by the cookbook's H(s): the reader is told that no board does without.
		said := regexp.MustCompile(`; the ideal itself is \+([\d.]+) dB there, re its greatest in the band$`).FindStringSubmatch(f.Note)
		if shelf := filter[:5] == "high-"; shelf != (said != nil) || shelf != strings.HasPrefix(f.Remedy, "no board does, as the ideal is above that itself: change the filters, or allow ") {
			t.Errorf("%s: %q, %q", filter, f.Note, f.Remedy)
		} else if shelf {
			rises := cookbookShelfDB(f.AtHz/15e3) - cookbookShelfDB(20./15)
			if is, err := strconv.ParseFloat(said[1], 64); err != nil || math.Abs(is-rises) > 0.006 {
				t.Errorf("%s: said are %s dB, by the formula %.4f", filter, said[1], rises)
			}
		}
	}
}

// cookbookShelfDB is the level of the W3C cookbook's high shelf of 12 dB and Q 0.7 at so many times its frequency:
// H(s) = A·(A·s² + √A/Q·s + 1)/(s² + √A/Q·s + A), A = 10^(12/40).
func cookbookShelfDB(x float64) float64 {
	a := math.Pow(10, 12./40)
	side := x * math.Sqrt(a) / 0.7
	return 20 * math.Log10(a*math.Hypot(1-a*x*x, side)/math.Hypot(a-x*x, side))
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

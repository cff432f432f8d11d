package compiler_test

import (
	"context"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
)

// A board with a pole shift that no bridged T can make, by a little, and with a gain that
// hardly differs from none.
const nearlyCheap = `bandwright: 1
name: test
ways:
  bass:
    filters:
      - pole-shift: {from: {at: 58 Hz, q: 0.92}, to: {at: 38 Hz, q: 0.6}}
      - peak: {at: 145 Hz, q: 2.5, gain: -2 dB}
    gain: 0.15 dB
board: {output: {build-out: 0 ohm}}
`

// A saving that is told is one: a spec with that change, compiled, has so many op-amps and
// parts fewer, and its prototype moves by so much and there.
func TestSavingsAreTrue(t *testing.T) {
	src := nearlyCheap
	compiled := func(src string) *compiler.Build {
		b, faults, err := compiler.Verdict(context.Background(), "test.yaml", []byte(src), nil)
		if err != nil || b == nil || b.Board == nil {
			t.Fatal(err, faults)
		}
		return b
	}
	before := compiled(src)
	texts := map[string]string{
		"from.q": "q: 0.92", "from.at": "at: 58 Hz", "to.at": "at: 38 Hz", "to.q": "q: 0.6}}", "gain": "gain: 0.15 dB",
	}
	kinds := map[string]bool{}
	for _, s := range before.Savings(context.Background()) {
		text := texts[s.Key]
		if text == "" || strings.Count(src, text) != 1 {
			t.Fatalf("%s: no such key", s)
		}
		kinds[s.Line] = true
		after := compiled(strings.Replace(src, text, strings.Replace(text, s.Was, s.Is, 1), 1))
		was, is := before.Board.Plan(), after.Board.Plan()
		if was.OpAmps-is.OpAmps != s.OpAmps || s.OpAmps < 1 {
			t.Errorf("%s: %d op-amps, then %d", s, was.OpAmps, is.OpAmps)
		}
		if was.Parts-is.Parts != s.Parts {
			t.Errorf("%s: %d parts, then %d", s, was.Parts, is.Parts)
		}
		worst, at := 0.0, 0.0
		for _, f := range biquad.Octaves(20, 20e3, 200) {
			h := make([]complex128, 2)
			for i, b := range []*compiler.Build{before, after} {
				one := make([]complex128, 1)
				biquad.AnalogAt(one, b.Prototype.Path(0), nil, []float64{f})
				h[i] = one[0]
			}
			if d := math.Abs(biquad.GainDB(cmplx.Abs(h[1] / h[0]))); d > worst+1e-9 {
				worst, at = d, f
			}
		}
		if math.Abs(worst-s.DB) > 0.001 || worst > 0.2 || s.Hz > 0 && math.Abs(math.Log2(at/s.Hz)) > 1.0/24 {
			t.Errorf("%s: the prototype moves by %.4f dB at %.1f Hz", s, worst, at)
		}
	}
	if len(kinds) != 2 {
		t.Errorf("savings of %v, want one of the pole shift and one of the gain", kinds)
	}
}

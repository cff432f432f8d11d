package compiler_test

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/netlist"
	"bandwright/compiler/verify"
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
	compiled := func(src string) *compiler.Build { return compiledHeld(t, src, nil, compiler.Holding{}) }
	before := compiled(src)
	texts := map[string]string{
		"from.q": "q: 0.92", "from.at": "at: 58 Hz", "to.at": "at: 38 Hz", "to.q": "q: 0.6}}", "gain": "gain: 0.15 dB",
	}
	kinds := map[string]bool{}
	for _, s := range before.Savings(context.Background()).Small {
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

// A cut whose loss of level the way's own makes up.
const dearer = `bandwright: 1
name: test
ways:
  mid:
    filters:
      - peak: {at: 400 Hz, q: 2.2, gain: -2.5 dB}
      - low-pass: {family: LR, order: 4, at: 5 kHz}
    gain: -14 dB
promise: {headroom: off, board-headroom: off, board-spread: off, board-yield: off}
board: {}
`

// A topology that is told saves so much at such a price: the spec that names it, compiled, has a board with so
// many op-amps and parts fewer, keeps what was kept, and its figures are those that were told. One that was tried
// and is not told breaks a promise, or makes the way more than 3 dB louder at rest.
func TestNamedTopologiesAreTrue(t *testing.T) {
	figure := func(b *compiler.Build, way string, of func(verify.Figures) verify.Extreme) float64 {
		i := slices.IndexFunc(b.Figures, func(f verify.Figures) bool { return f.Way == way })
		return math.Abs(of(b.Figures[i]).Value)
	}
	noise := func(f verify.Figures) verify.Extreme { return f.NoiseV }
	offset := func(f verify.Figures) verify.Extreme { return f.OffsetV }
	off := func(f verify.Figures) verify.Extreme { return f.Magnitude }
	farads := func(b *compiler.Build) (sum float64) {
		for _, x := range b.Board.Bins() {
			if x.Kind == netlist.Capacitor {
				sum += x.Value * float64(len(x.Refs))
			}
		}
		return sum
	}
	told := 0
	for _, src := range []string{dearer, strings.NewReplacer("400 Hz, q: 2.2, gain: -2.5 dB", "1 kHz, q: 1.5, gain: -4 dB", "-14 dB", "-7 dB").Replace(dearer)} {
		before := compiledHeld(t, src, nil, compiler.Holding{})
		after := compiledHeld(t, strings.Replace(src, "- peak: {", "- peak: {topology: multiple-feedback-cut, ", 1), nil, compiler.Holding{})
		was, is := before.Board.Plan(), after.Board.Plan()
		worse := slices.ContainsFunc(after.Findings, func(f verify.Finding) bool {
			return !f.Kept && slices.ContainsFunc(before.Findings, func(g verify.Finding) bool { return g.Kept && g.About == f.About })
		})
		louder := biquad.GainDB(figure(after, "mid", noise) / figure(before, "mid", noise))
		all := before.Savings(context.Background())
		if is.OpAmps >= was.OpAmps || all.Tried != 1 || all.More {
			t.Errorf("%d op-amps instead of %d with the topology, and %+v", is.OpAmps, was.OpAmps, all)
		}
		if (len(all.Named) == 1) != (!worse && louder <= 3) {
			t.Errorf("%.2f dB louder, a promise more broken: %v, told %v", louder, worse, all.Named)
		}
		for _, s := range all.Named {
			told++
			if s.Way != 0 || s.Topology != "multiple-feedback-cut" || s.OpAmps != was.OpAmps-is.OpAmps || s.Parts != was.Parts-is.Parts {
				t.Errorf("%s: %d op-amps and %d parts, then %d and %d", s, was.OpAmps, was.Parts, is.OpAmps, is.Parts)
			}
			for _, x := range []struct {
				cost    compiler.Cost
				is, was float64
			}{
				{s.Noise, figure(after, "mid", noise), figure(before, "mid", noise)},
				{s.Offset, figure(after, "mid", offset), figure(before, "mid", offset)},
				{s.Error, figure(after, "mid", off), figure(before, "mid", off)},
				{s.Capacitance, farads(after), farads(before)},
			} {
				if math.Abs(x.cost.Is-x.is) > 1e-9*x.is || math.Abs(x.cost.Was-x.was) > 1e-9*x.was {
					t.Errorf("%s: %g instead of %g, told %+v", s, x.is, x.was, x.cost)
				}
			}
		}
	}
	if told != 1 {
		t.Errorf("%d of two told, want one", told)
	}
}

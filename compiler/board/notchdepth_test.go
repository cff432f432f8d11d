package board_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/stage"
)

// notchStage is a notch of a topology at 1 kHz with exact values.
func notchStage(t *testing.T, name string, q float64) stage.Candidate {
	t.Helper()
	section := biquad.Analog{W0: 2 * math.Pi * 1000, B: [3]float64{1, 0, 1}, A: [3]float64{1, 1 / q, 1}}
	top, _ := circuit.ByName(name)
	means := circuit.Means{
		OpAmp: netlist.OpAmp{GainBandwidthHz: 10e6, OpenLoopGain: 316228, OutputOhm: 50},
		Ohm:   circuit.Range{From: 100, To: 1e6}, Farad: circuit.Range{From: 1e-10, To: 1e-6}, ShuntOhm: 100,
	}
	p := top.Propose(section, means)
	if !p.Applies {
		t.Fatalf("%s: %s", name, p.Reason)
	}
	return stage.Candidate{Topology: top, Section: section, Values: p.Values, Level: p.Level}
}

// deepest is the least magnitude near 1 kHz of a stage with values v, over its level at 0 Hz.
func deepest(top *circuit.Topology, v []float64, level float64) float64 {
	h := top.Closed(v)
	f := biquad.Summit(900, 1100, 60, func(f float64) float64 { return -cmplx.Abs(h.At(2 * math.Pi * f)) })
	return cmplx.Abs(h.At(2*math.Pi*f)) / level
}

// saysMatched reports whether the topology itself says that its depth hangs on the match
// of parts.
func saysMatched(s stage.Candidate) bool {
	a, _ := circuit.Ask(s.Section)
	return s.Topology.Cautions != nil && slices.ContainsFunc(s.Topology.Cautions(a, s.Values, circuit.Means{}), func(c circuit.Caution) bool { return c.Trait == circuit.MatchedDepth })
}

// The band-pass inside a difference has the gain C2·R3/(R1·(C1+C2)) at its peak, and Ra and
// Rb weigh it: each of these four resistors takes its own share from the null, each
// capacitor C1/(C1+C2) of it, and R2 none.
func TestNotchDepthByTheFormula(t *testing.T) {
	s := notchStage(t, "sum-with-band-pass", 2)
	part := func(ref string) float64 {
		for i, e := range s.Topology.Parts() {
			if e.Ref == ref {
				return s.Values[i]
			}
		}
		t.Fatalf("no %s", ref)
		return 0
	}
	const ohm, farad = 0.01, 0.02
	c1, c2 := part("C1"), part("C2")
	each := c1 / (c1 + c2)
	worst := 20 * math.Log10(4*ohm+2*each*farad)
	usual := 10 * math.Log10((4*ohm*ohm+2*each*each*farad*farad)/3)
	gotWorst, gotUsual, share := board.Notch(s, ohm, farad)
	if math.Abs(gotWorst-worst) > 1e-3 || math.Abs(gotUsual-usual) > 1e-3 {
		t.Errorf("%.4f dB at worst, %.4f usually; the formula gives %.4f and %.4f", gotWorst, gotUsual, worst, usual)
	}
	if at, _, _ := board.Notch(s, share*ohm, share*farad); math.Abs(at+40) > 1e-3 {
		t.Errorf("%.4g of the tolerances make %.4f dB, not 40", share, at)
	}
}

// The worst corner is found by trying all, with the bottom where it then is; the usual depth
// by drawing boards.
func TestNotchDepthByTryingAll(t *testing.T) {
	const ohm, farad = 0.002, 0.004
	for _, name := range []string{"sum-with-band-pass", "fliege", "twin-t", "bainter", "state-variable-sum", "tow-thomas"} {
		s := notchStage(t, name, 1.3)
		h := s.Topology.Closed(s.Values)
		level := math.Abs(h.N[0] / h.D[0])
		var by []float64 // tolerances
		for i, e := range s.Topology.Parts() {
			share := ohm
			if e.Kind == netlist.Capacitor {
				share = farad
			}
			if s.Values[i] == 0 {
				share = 0
			}
			by = append(by, share)
		}
		off := func(signs func(i int) float64) float64 {
			v := append([]float64{}, s.Values...)
			for i := range v {
				v[i] *= 1 + by[i]*signs(i)
			}
			return deepest(s.Topology, v, level)
		}
		most := 0.0
		for corner := range 1 << len(by) {
			most = max(most, off(func(i int) float64 { return float64(corner>>i&1)*2 - 1 }))
		}
		dice := rand.New(rand.NewPCG(1, 2))
		const drawn = 4000
		square := 0.0
		for range drawn {
			x := off(func(int) float64 { return 2*dice.Float64() - 1 })
			square += x * x / drawn
		}
		worst, usual, _ := board.Notch(s, ohm, farad)
		// Notches of a high-pass and a low-pass have their zeros on the axis whatever the
		// parts: rounding is all that is left.
		if matched := worst > -200; matched != (most > 1e-10) || matched != saysMatched(s) {
			t.Errorf("%s: %.2f dB at worst; of all corners the worst is %.2f", name, worst, 20*math.Log10(most))
		} else if !matched {
			continue
		}
		if db := 20 * math.Log10(most); math.Abs(db-worst) > 0.15 {
			t.Errorf("%s: %.2f dB at worst; of all %d corners the worst is %.2f", name, worst, 1<<len(by), db)
		}
		if db := 10 * math.Log10(square); math.Abs(db-usual) > 0.25 {
			t.Errorf("%s: %.2f dB usually; boards drawn have %.2f", name, usual, db)
		}
	}
}

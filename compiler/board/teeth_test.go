package board_test

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler"
	"bandwright/compiler/board"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
)

// altered is by how much a part of a stage is altered: what a wrong digit or the
// wrong drawer does at least.
const altered = 1.3

// Resistors and capacitors of stages are altered, one at a time: every one of a small
// board, and every third of a larger one with switches; but not those of a gain of next
// to nothing, which do next to nothing. Verification must break a promise, and the worst error that it reports must
// be what an analysis of the altered netlist says at that place, to 1e-9 dB.
func TestBoardTeeth(t *testing.T) {
	for name, step := range map[string]int{"dabchick": 1, "heron": 3} {
		// A build of its own: its values are written to.
		b := build(t, source(t, name))
		s := b.Subject()
		parts, tried := 0, 0
		for _, c := range b.Board.Chains() {
			for _, stage := range c.Built() {
				if stage.Role == board.GainStage && math.Abs(stage.Wanted().Level-1) < 0.02 {
					continue
				}
				values := stage.Values
				for i, e := range stage.Topology.Parts() {
					if values[i] == 0 || slices.Contains(e.Nodes, "pole") && stage.Topology.Name == "tapped-gain" {
						continue // what holds an input between two taps does nothing at any of them
					}
					if parts++; parts%step != 0 {
						continue
					}
					tried++
					stage.Values = slices.Clone(values)
					stage.Values[i] *= altered
					if err := b.Board.Rewire(); err != nil {
						t.Fatal(err)
					}
					figures, findings := verify.Judge(context.Background(), s, b.Board, b.Promises.Terms())
					if !slices.ContainsFunc(findings, func(f verify.Finding) bool { return !f.Kept }) {
						t.Errorf("%s: %s of stage %s at %g times its value passes unseen", name, e.Ref, stage.Topology.Name, altered)
					}
					for way := range b.Board.Ways {
						agrees(t, b, way, figures[way].Magnitude)
					}
					stage.Values = values
				}
			}
		}
		if tried < 25 {
			t.Errorf("%s: only %d parts tried", name, tried)
		}
		t.Logf("%s: %d of %d parts", name, tried, parts)
	}
}

// agrees compares a way's worst error with an analysis of the netlist as it is at
// that place, over the definition of the prototype in s.
func agrees(t *testing.T, b *compiler.Build, way int, e verify.Extreme) {
	t.Helper()
	comb := make(biquad.Combination, len(b.Settings))
	for _, c := range e.With {
		for i, s := range b.Settings {
			if s.Name == c.Setting {
				comb[i] = uint8(slices.Index(s.Choices, c.Choice))
			}
		}
	}
	circuit := b.Board.Circuit(comb)
	solver, err := nodal.New(circuit, e.AtHz)
	if err != nil {
		t.Fatal(err)
	}
	if err := solver.At(e.AtHz); err != nil {
		t.Fatal(err)
	}
	path := b.Prototype.Path(way)
	want, s := complex(path.Gain, 0), complex(0, 2*math.Pi*e.AtHz)
	for _, slot := range path.Slots {
		a := slot.Alt[slot.Index(comb)]
		x := s / complex(a.W0, 0)
		want *= (complex(a.B[0], 0) + x*complex(a.B[1], 0) + x*x*complex(a.B[2], 0)) / (complex(a.A[0], 0) + x*complex(a.A[1], 0) + x*x*complex(a.A[2], 0))
	}
	got := 20 * math.Log10(cmplx.Abs(solver.Voltage(circuit.Node(b.Board.Ways[way].Out)))/cmplx.Abs(want))
	if math.Abs(got-e.Value) > 1e-9 {
		t.Errorf("%s: reported %.12g dB at %g Hz, the netlist gives %.12g", b.Board.Ways[way].Name, e.Value, e.AtHz, got)
	}
}

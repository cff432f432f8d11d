package board_test

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"strings"
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

// responses are a board's from a way on, and how far down they are judged: what it is read for beside them can break
// no promise here.
type responses struct {
	*board.Board
	from int
}

func (r responses) On(hz []float64) verify.Responder   { return r.moved(r.Board.On(hz)) }
func (r responses) Near(hz []float64) verify.Responder { return r.moved(r.Board.Near(hz)) }
func (r responses) Landmarks(way int) []verify.Landmark {
	return r.Board.Landmarks(r.from + way)
}

func (r responses) moved(of verify.Responder) verify.Responder {
	return verify.Direct(func(dst []complex128, way int, c verify.Combination) { of.Response(dst, r.from+way, c) })
}

// judgeable are the ways that a chain is part of as what a board is judged by, and what is judged: those of the common chain are
// all, and another's is one, as no other way has its stages.
func judgeable(b *compiler.Build, chain int) (*verify.Subject, verify.Realisation) {
	w, r := b.Wanted, responses{Board: b.Board}
	if chain > 0 {
		r.from = chain - 1
		w.Prototype.Ways = w.Prototype.Ways[r.from:chain]
	}
	return w.Subject(), struct {
		verify.Realisation
		verify.Strays
		verify.Shared
	}{r, r, r}
}

// Resistors and capacitors of stages are altered, one at a time: every one of a small
// board, and every third of a larger one with switches; but not those of a gain of next
// to nothing, which do next to nothing. Verification must break a promise of the response, and the worst error that it reports must
// be what an analysis of the altered netlist says at that place, to 1e-9 dB, of every way that the part is in.
func TestBoardTeeth(t *testing.T) {
	for name, step := range map[string]int{"dabchick": 1, "heron": 3} {
		// A build of its own: its values are written to.
		b := build(t, strings.Replace(source(t, name), "\npromise:\n", "\npromise:\n  board-spread: off\n  board-yield: off\n", 1))
		all, judgedAll := judgeable(b, 0)
		parts, tried := 0, 0
		for n, c := range b.Board.Chains() {
			s, judged := judgeable(b, n)
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
					figures, findings := verify.Judge(context.Background(), s, judged, b.Promises.Terms())
					broken := slices.ContainsFunc(findings, func(f verify.Finding) bool { return !f.Kept })
					if !broken { // as an all-pass, which is seen beside the other ways
						_, findings = verify.Judge(context.Background(), all, judgedAll, b.Promises.Terms())
						broken = slices.ContainsFunc(findings, func(f verify.Finding) bool { return !f.Kept })
					}
					if !broken {
						t.Errorf("%s: %s of stage %s at %g times its value passes unseen", name, e.Ref, stage.Topology.Name, altered)
					}
					for i, name := range s.Ways {
						agrees(t, b, slices.IndexFunc(b.Board.Ways, func(w board.Way) bool { return w.Name == name }), figures[i].Magnitude)
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

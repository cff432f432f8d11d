package batch

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
)

// rejectionHz are where the input's rejection is looked at: hum, and mid-band.
var rejectionHz = [...]float64{50, 1000}

// Rejection is how far a balanced input keeps what both legs carry below what they
// differ by (dB): of half of the boards, of 95 %, of 99 %, and of the worst one.
type Rejection struct {
	Hz                   float64
	P50, P95, P99, Worst float64
}

// rejections simulates the balanced input of triedBoards; nil for one that is not
// balanced.
func (j *judge) rejections(b *board.Board) []Rejection {
	if !b.Spec.Input.Balanced {
		return nil
	}
	found := make([][len(rejectionHz)]float64, triedBoards)
	parallel.Each((triedBoards+inTurn-1)/inTurn, func(chunk int) {
		odd, errOdd := newInput(j.Parts, b.InputCircuit(0.5, -0.5), b)
		even, errEven := newInput(j.Parts, b.InputCircuit(1, 1), b)
		if errOdd != nil || errEven != nil {
			return
		}
		deviations := make([]float64, len(j.Parts))
		for n := chunk * inTurn; n < min(triedBoards, (chunk+1)*inTurn); n++ {
			j.Deviations(deviations, n)
			for i, hz := range rejectionHz {
				found[n][i] = biquad.GainDB(odd.at(hz, deviations) / even.at(hz, deviations))
			}
		}
	})
	var out []Rejection
	for i, hz := range rejectionHz {
		var all []float64
		for _, f := range found {
			all = append(all, f[i])
		}
		slices.Sort(all)
		least := func(share float64) float64 { return all[len(all)-1-rank(len(all), share)] }
		out = append(out, Rejection{hz, least(0.5), least(0.95), least(0.99), all[0]})
	}
	return out
}

// input is the input stage by itself.
type input struct {
	solver *nodal.Solver
	out    netlist.Node
	parts  []Part
	index  [][2]int // part, and its index in the solver
}

func newInput(parts []Part, c *netlist.Circuit, b *board.Board) (*input, error) {
	s, err := nodal.New(c, rejectionHz[0])
	if err != nil {
		return nil, err
	}
	x := &input{solver: s, out: c.Node(b.Common.Positions[0].Alt[0].Stages[0].Out), parts: parts}
	for i, p := range parts {
		if k, ok := c.Part(p.Ref); ok {
			x.index = append(x.index, [2]int{i, k})
		}
	}
	return x, nil
}

// at is the magnitude at the stage's output with parts that deviate so far.
func (x *input) at(hz float64, deviations []float64) float64 {
	for _, p := range x.index {
		_ = x.solver.Set(p[1], x.parts[p[0]].Value*(1+deviations[p[0]])) // in range
	}
	if x.solver.At(hz) != nil {
		return math.NaN()
	}
	return cmplx.Abs(x.solver.Voltage(x.out))
}

package board

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
)

// Imbalance is how far a balanced input with an RF filter keeps what both legs carry below
// what they differ by (dB), with the tolerances of its parts at their worst signs.
type Imbalance struct {
	Hz float64
	// FilterDB is with the input stage exactly matched, InputDB with its resistors off as
	// well.
	FilterDB, InputDB float64
}

// imbalanceHz are the frequencies that it is told at: no filter matters at mains hum.
var imbalanceHz = [...]float64{1e3, 20e3}

// Imbalance is that of the board's input; nil for one that has no two filtered legs.
func (b *Board) Imbalance() []Imbalance {
	if _, farad := b.rf(); !b.Spec.Input.Balanced || farad == 0 {
		return nil
	}
	odd, errOdd := nodal.New(b.InputCircuit(0.5, -0.5), imbalanceHz[0])
	even, errEven := nodal.New(b.InputCircuit(1, 1), imbalanceHz[0])
	if errOdd != nil || errEven != nil {
		return nil
	}
	input := b.Common.Positions[0].Alt[0].Stages[0]
	circuit := b.InputCircuit(1, 1)
	node := circuit.Node(input.Out)
	// The values that turn a sign each: those of the two legs, opposite to each other, then
	// each of the stage's own.
	var turns [][]turned
	for _, use := range []Use{SeriesResistance, RFFilter} {
		pair := make([]turned, 0, 2)
		for _, p := range b.Common.Ends {
			if p.Use == use {
				pair = append(pair, b.turn(circuit, p.Ref, p.Kind, p.Value, 1-2*float64(len(pair))))
			}
		}
		turns = append(turns, pair)
	}
	legs := len(turns)
	for _, p := range input.Placed() {
		if p.Kind == netlist.Resistor {
			turns = append(turns, []turned{b.turn(circuit, p.Ref, p.Kind, p.Value, 1)})
		}
	}
	var out []Imbalance
	for _, hz := range imbalanceHz {
		if odd.At(hz) != nil {
			return nil
		}
		wanted := cmplx.Abs(odd.Voltage(node))
		db := func(turns [][]turned) float64 {
			return biquad.GainDB(wanted / most(even.Clone(), node, hz, turns))
		}
		out = append(out, Imbalance{hz, db(turns[:legs]), db(turns)})
	}
	return out
}

// turned is a part that is off by so much of its value.
type turned struct {
	part  int // in the circuit
	value float64
	off   float64
}

func (b *Board) turn(c *netlist.Circuit, ref string, kind netlist.Kind, value, sign float64) turned {
	from := &b.Spec.Resistors
	if kind == netlist.Capacitor {
		from = &b.Spec.Capacitors
	}
	i, _ := c.Part(ref)
	return turned{i, value, sign * from.ToleranceOf(value)}
}

// most is the greatest voltage at a node with every sign of what turns together.
func most(s *nodal.Solver, out netlist.Node, hz float64, turns [][]turned) float64 {
	worst := 0.0
	for signs := range 1 << len(turns) {
		for k, x := range turns {
			sign := 1.0
			if signs>>k&1 == 1 {
				sign = -1
			}
			for _, p := range x {
				_ = s.Set(p.part, p.value*(1+sign*p.off)) // in range
			}
		}
		if s.At(hz) == nil {
			worst = math.Max(worst, cmplx.Abs(s.Voltage(out)))
		}
	}
	return worst
}

// MuteDB is how far down a muted output is at least, in the default setting (dB).
func (b *Board) MuteDB() float64 {
	c := b.defaults()
	closed := func(k Contact) float64 {
		if k.Closed(c) {
			return ClosedOhm
		}
		return OpenOhm
	}
	circuit := b.state(closed, true)
	muted, err := nodal.New(circuit, b.LowHz)
	if err != nil {
		return 0
	}
	playing, outs := b.Solver(c)
	least := math.Inf(1)
	for _, hz := range [...]float64{20, 1e3, 20e3} {
		if muted.At(hz) != nil || playing.At(hz) != nil {
			return 0
		}
		for k, way := range b.Ways {
			least = math.Min(least, biquad.GainDB(cmplx.Abs(playing.Voltage(outs[k]))/cmplx.Abs(muted.Voltage(circuit.Node(way.Out)))))
		}
	}
	return least
}

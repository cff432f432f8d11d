package diagnosis

import (
	"errors"
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/board"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
)

// Effect is what a part does that is missing or shorted.
type Effect struct {
	Ref   string
	Value float64 // ohm or farad
	Unit  string
	// Missing and Shorted are by way.
	Missing, Shorted []WayEffect
}

// WayEffect is what becomes of one way's output: the greatest change (dB) and where (Hz).
type WayEffect struct {
	DB, Hz float64
	// Silent tells that everywhere less than silentDB re the nominal output is left, All that the
	// change is the same at all frequencies, within a tenth of a dB.
	Silent, All bool
	// Rails tells that an op-amp on the way stands at a rail, or swings between both: its DC, or a level that has
	// risen by more than railDB, with the input's level at the input, is beyond the swing.
	Rails bool
}

// silentDB is below which an output is called silent.
const silentDB = -40.0

// railDB is a rise (dB) that is no mere overload.
const railDB = 30.0

// mostDB is the greatest loss that is told apart (dB).
const mostDB = 200.0

// Effects are what parts do, by reference, that are missing or shorted, to the outputs of a board in one
// combination, from lowHz to highHz. References that are no resistors or capacitors are left out. It fails
// where the board's equations have no solution.
func Effects(subject *verify.Subject, b *board.Board, c verify.Combination, lowHz, highHz float64) (map[string]Effect, error) {
	var ways []int
	for w := range b.Ways {
		ways = append(ways, w)
	}
	x, err := newBench(subject, b, nil, ways, c, Conditions{LowHz: lowHz, HighHz: highHz})
	if err != nil {
		return nil, err
	}
	inside, err := x.within()
	if err != nil {
		return nil, err
	}
	out := map[string]Effect{}
	for i, p := range x.Parts {
		effect := Effect{p.Ref, p.Value, unitOf(p.Kind), x.effect(i, gone), x.effect(i, bridged)}
		if err := errors.Join(inside.rails(effect.Missing, i, gone), inside.rails(effect.Shorted, i, bridged)); err != nil {
			return nil, err
		}
		out[p.Ref] = effect
	}
	return out, nil
}

// inside is a board looked at where its op-amps are.
type inside struct {
	*Bench
	s     *nodal.Solver
	hz    []float64
	nodes [][]netlist.Node // by column, the outputs of the stages that the way goes through
	rest  [][]nodal.Ports  // their DC, as parts see it
	level [][]float64      // by frequency and node, all columns one after the other: V RMS, of the board without a fault
}

// within looks at a board with the input's level at the input, and with the input at rest.
func (x *Bench) within() (*inside, error) {
	in, err := x.driven()
	if err != nil {
		return nil, err
	}
	for _, nodes := range in.nodes {
		rest := make([]nodal.Ports, len(nodes))
		for i, n := range nodes {
			if err := in.s.PortsDC(&rest[i], n, x.index); err != nil {
				return nil, err
			}
		}
		in.rest = append(in.rest, rest)
	}
	return in, nil
}

// driven is within without the input at rest.
func (x *Bench) driven() (*inside, error) {
	in := &inside{Bench: x, hz: biquad.Octaves(x.LowHz, x.HighHz, 2)}
	in.s, _ = x.board.Solver(x.C)
	for _, w := range x.ways {
		var nodes []netlist.Node
		for _, c := range x.board.Chains() {
			if c != &x.board.Common && x.board.NameOf(c) != x.board.Ways[w].Name {
				continue
			}
			for i := range c.Positions {
				p := &c.Positions[i]
				for _, stage := range p.Alt[p.Index(x.C)].Stages {
					nodes = append(nodes, x.board.Node(stage.Out))
				}
			}
		}
		in.nodes = append(in.nodes, nodes)
	}
	for _, hz := range in.hz {
		if err := in.s.At(hz); err != nil {
			return nil, err
		}
		in.level = append(in.level, in.volts())
	}
	return in, nil
}

// volts are those at all nodes, at the frequency that was solved last.
func (in *inside) volts() (out []float64) {
	level := in.board.Spec.Input.Level.In(in.C)
	for _, nodes := range in.nodes {
		for _, n := range nodes {
			out = append(out, level*cmplx.Abs(in.s.Voltage(n)))
		}
	}
	return out
}

// far is how many times its value a part has, or what part of it, that stands for one that is missing or shorted.
const far = 1e6

// rails finds the ways of which an op-amp is at a rail with a fault of one part.
func (in *inside) rails(of []WayEffect, part int, factor float64) error {
	swing := in.board.OpAmp.SwingV
	for column, rest := range in.rest {
		for i := range rest {
			of[column].Rails = of[column].Rails || in.resting(&rest[i], part, factor) > swing
		}
	}
	p := &in.Parts[part]
	by := far
	if (p.Kind == netlist.Resistor) == (factor == bridged) {
		by = 1 / far
	}
	swings, err := in.swings(part, by)
	for column := range of {
		of[column].Rails = of[column].Rails || swings>>column&1 != 0
	}
	return err
}

// swings are the columns, a bit each, of which an op-amp swings from rail to rail with the input's level at the input, where a
// part has so many times its value.
func (in *inside) swings(part int, times float64) (columns uint32, err error) {
	if err := in.s.Set(in.index[part], in.Parts[part].Value*times); err != nil {
		return 0, err
	}
	for i, hz := range in.hz {
		if err := in.s.At(hz); err != nil {
			return 0, err
		}
		volts, k := in.volts(), 0
		for column, nodes := range in.nodes {
			for range nodes {
				if v := volts[k]; v*math.Sqrt2 > in.board.OpAmp.SwingV && biquad.GainDB(v/in.level[i][k]) > railDB {
					columns |= 1 << column
				}
				k++
			}
		}
	}
	return columns, in.s.Set(in.index[part], in.Parts[part].Value)
}

// leak is what a missing resistor still conducts, as a share: the dirt of a board, some teraohms.
const leak = 1e-9

// resting is the DC (V, in magnitude) at a node with a fault of one part.
func (x *Bench) resting(t *nodal.Ports, part int, factor float64) float64 {
	y := 0.0 // a capacitor conducts nothing in any case
	switch resistor := x.Parts[part].Kind == netlist.Resistor; {
	case factor == bridged:
		y = shortS
	case resistor && factor == gone:
		y = -(1 - leak) / x.Parts[part].Value
	case resistor:
		y = (1/factor - 1) / x.Parts[part].Value
	}
	z := t.Z[part*len(x.Parts)+part]
	return cmplx.Abs(t.Out - t.Reach[part]*complex(y, 0)/(1+complex(y, 0)*z)*t.Across[part])
}

// effect is that of one fault, by way.
func (x *Bench) effect(part int, factor float64) []WayEffect {
	f := Fault{parts: [2]int{part, -1}, factors: [2]float64{factor, 1}}
	out := make([]WayEffect, len(x.ways))
	least, most := make([]float64, len(x.ways)), make([]float64, len(x.ways))
	for c := range out {
		out[c].Silent, least[c], most[c] = true, math.Inf(1), math.Inf(-1)
	}
	for i, at := range x.places {
		db := math.Max(-mostDB, biquad.DB(x.response(at, &f)/x.nominalAt(i, at)))
		e := &out[at.column]
		e.Silent = e.Silent && db < silentDB
		if math.Abs(db) > math.Abs(e.DB) {
			e.DB, e.Hz = db, x.hz[at.f]
		}
		least[at.column], most[at.column] = math.Min(least[at.column], db), math.Max(most[at.column], db)
	}
	for c := range out {
		out[c].All = most[c]-least[c] < 0.1
	}
	return out
}

package board

import (
	"math"

	"bandwright/compiler/circuit"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/stage"
)

// Rewire makes the equations of a board anew after its values were changed.
func (b *Board) Rewire() error { return b.wire() }

// Foreseen is the worst error (dB) of any way and of any sum of neighbours as the
// choice of values reckons, from the stages by themselves.
func (b *Board) Foreseen(j Job) (way, sum float64, err error) {
	return b.foreseen(j, benchOf(j), j.few())
}

// Distorts reports whether a capacitor of a dielectric distorts in the signal path.
func Distorts(dielectric string) bool { return distorts(dielectric) }

// CautionNames are the names of the table of cautions.
func CautionNames() []string {
	var out []string
	for _, c := range cautions {
		out = append(out, c.name)
	}
	return out
}

// DCPath is what the caution about DC paths says of a circuit.
func DCPath(c *netlist.Circuit) (string, error) {
	s, err := nodal.New(c, 1)
	if err != nil {
		return "", err
	}
	at := noDCPath.found(&survey{Board: &Board{wiring: &wiring{solver: s}}})
	if at == nil {
		return "", nil
	}
	return noDCPath.sentence(at), nil
}

// Notch is how deep the notch of a stage is (dB) in the worst corner of the tolerances,
// and usually, and the share of them with which the worst corner is 40 dB down.
func Notch(s stage.Candidate, ohm, farad float64) (worst, usual, share float64) {
	x := Stage{Candidate: s}
	n, _ := x.depth(func(k netlist.Kind, _ float64) float64 {
		if k == netlist.Capacitor {
			return farad
		}
		return ohm
	}, 1/math.Sqrt(3))
	return n.worst, n.usual, n.share
}

// Adds is what every stage adds to the output of each way, by itself; nothing for ways
// that it is no part of.
func Adds(b *Board) (map[*Stage][]stage.Added, error) {
	out := map[*Stage][]stage.Added{}
	bench := stage.New(stage.Stock{}, circuit.Means{OpAmp: b.OpAmp}, stage.Band{FromHz: b.bandHz[0], ToHz: b.bandHz[1]})
	for k := range b.Ways {
		one := *b
		one.Ways = b.Ways[k : k+1]
		for s, behind := range one.behind() {
			x, err := bench.Adds([]stage.Candidate{s.Candidate}, behind)
			if err != nil {
				return nil, err
			}
			if out[s] == nil {
				out[s] = make([]stage.Added, len(b.Ways))
			}
			out[s][k] = x[0]
		}
	}
	return out, nil
}

package diagnosis

import (
	"math"

	"bandwright/compiler/netlist"
)

// Kind is a kind of fault of one part, or of two that were exchanged.
type Kind uint8

// The kinds of fault.
const (
	Off Kind = iota // some other value
	Missing
	Shorted
	TenTimes
	Tenth
	Exchanged
)

// prior is how likely each kind of fault is beforehand, where something is wrong, of each
// part; exchanged pairs share theirs. They are of one board of a hundred, and nobody has
// counted them: what is likely hangs on the measurement by far.
var prior = [...]float64{Off: 0.5, Missing: 0.12, Shorted: 0.12, TenTimes: 0.08, Tenth: 0.08, Exchanged: 0.1}

// gone and bridged stand for the value of a part that is missing or shorted, as factors.
const gone, bridged = -1, -2

// Fault is one thing that is wrong.
type Fault struct {
	Kind
	parts   [2]int // the second -1 where one is wrong
	factors [2]float64
	stuck   uint32 // a bit for each column that is silent, as an op-amp of the way is at a rail
	swings  uint32 // a bit for each column of which an op-amp swings from rail to rail at the input's level
}

// discrete are the faults of one part without an amount.
var discrete = []struct {
	Kind
	factor float64
}{{Missing, gone}, {Shorted, bridged}, {TenTimes, 10}, {Tenth, 0.1}}

// listFaults lists those without an amount: of every part by itself, and of neighbours that may
// have been exchanged, those of one stage and of the next.
func (x *Bench) listFaults() []Fault {
	var out []Fault
	for i := range x.Parts {
		for _, d := range discrete {
			out = append(out, Fault{Kind: d.Kind, parts: [2]int{i, -1}, factors: [2]float64{d.factor, 1}})
		}
	}
	index := map[string]int{}
	for i, p := range x.Parts {
		index[p.Ref] = i
	}
	for _, c := range x.board.Chains() {
		var before []int
		for _, st := range c.Built() {
			var own []int
			for _, p := range st.Placed() {
				if p.Kind == netlist.Amplifier {
					continue
				}
				i := index[p.Ref]
				for _, k := range append(before, own...) {
					if a, b := x.Parts[k], x.Parts[i]; a.Kind == b.Kind && a.Value != b.Value {
						out = append(out, Fault{Kind: Exchanged, parts: [2]int{k, i}, factors: [2]float64{b.Value / a.Value, a.Value / b.Value}})
					}
				}
				own = append(own, i)
			}
			before = own
		}
	}
	return out
}

// off is a part with so many times its value.
func off(part int, lnFactor float64) Fault {
	return Fault{Kind: Off, parts: [2]int{part, -1}, factors: [2]float64{math.Exp2(lnFactor / math.Ln2), 1}}
}

package production

import (
	"math"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/parallel"
)

// fault is a mistake on an otherwise nominal board: parts that are another value by a
// factor.
type fault struct {
	parts   [2]int // by index; the second is -1 where one part is wrong
	factors [2]float64
}

const (
	// offBy is the deviation of a part that is found.
	offBy = 0.2
	// gone is the factor that stands for a part that is missing or shorted.
	gone = 1e6
)

// listFaults lists what is looked for: each part 20 % off either way, and of the parts of
// stages each missing, each shorted, and two of one kind exchanged, in one stage or
// with the next stage.
func (s *survey) listFaults() []fault {
	var out []fault
	for i := range s.sim.Parts {
		out = append(out, fault{[2]int{i, -1}, [2]float64{1 + offBy, 1}}, fault{[2]int{i, -1}, [2]float64{1 - offBy, 1}})
	}
	index := map[string]int{}
	for i, p := range s.sim.Parts {
		index[p.Ref] = i
	}
	for _, c := range s.board.Chains() {
		var before []int
		for _, st := range c.Built() {
			var own []int
			for _, p := range st.Placed() {
				if p.Kind == netlist.Amplifier {
					continue
				}
				i := index[p.Ref]
				out = append(out, fault{[2]int{i, -1}, [2]float64{gone, 1}}, fault{[2]int{i, -1}, [2]float64{1 / gone, 1}})
				for _, k := range append(before, own...) {
					if a, b := s.sim.Parts[k], s.sim.Parts[i]; a.Kind == b.Kind && a.Value != b.Value {
						out = append(out, fault{[2]int{k, i}, [2]float64{b.Value / a.Value, a.Value / b.Value}})
					}
				}
				own = append(own, i)
			}
			before = own
		}
	}
	return out
}

// mostTelling bounds how telling a frequency can be: half widths of the limits.
const mostTelling = 100

// tell finds how telling every frequency is of every fault.
func (s *survey) tell() {
	for _, x := range s.tests {
		x.telling = make([][]float64, len(s.faults))
	}
	touched := s.sim.Touched()
	const inTurn = 16
	parallel.Each((len(s.faults)+inTurn-1)/inTurn, func(chunk int) {
		u, d := s.sim.Unit(), make([]float64, len(s.sim.Parts))
		for n := chunk * inTurn; n < min(len(s.faults), (chunk+1)*inTurn); n++ {
			f := s.faults[n]
			ways := make([]bool, len(s.board.Ways))
			for i, p := range f.parts {
				if p >= 0 {
					d[p] = f.factors[i] - 1
					for k, t := range touched[p] {
						ways[k] = ways[k] || t
					}
				}
			}
			u.SetWays(d, ways)
			for _, x := range s.tests {
				if ways[x.way] {
					x.telling[n] = x.tellingOf(u.Way(x.way, x.variant))
				}
			}
			for _, p := range f.parts {
				if p >= 0 {
					d[p] = 0
				}
			}
		}
	})
}

// tellingOf is how far a faulty response lies from the nominal one, in half widths of the
// limits; nil where it is nowhere far.
func (x *tested) tellingOf(h []complex128) []float64 {
	out, most := make([]float64, len(h)), 0.0
	for i, v := range h {
		if !x.usable[i] {
			continue
		}
		out[i] = math.Min(mostTelling, math.Abs(biquad.DB(v)-x.levels[i])/x.halfDB(i))
		if !(out[i] >= 0) { // the closed form of a stage without a part may be 0/0
			out[i] = mostTelling
		}
		most = math.Max(most, out[i])
	}
	if most < 0.5 {
		return nil
	}
	return out
}

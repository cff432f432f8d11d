package nodal

import (
	"math"

	"bandwright/compiler/netlist"
)

// Offsets is the DC voltage that op-amps make at a node.
type Offsets struct {
	// Nominal (V) has every offset at its full positive value and every bias
	// current flowing into the inputs.
	Nominal float64
	// Worst (V) has every offset and every bias current at the sign that is
	// worst: the sum of the magnitudes.
	Worst float64
	// ByPart holds each op-amp's share (V) of Worst, one element a part.
	ByPart []float64
	// ByBias is what its bias currents make of that share (V), and Gain by how much an
	// offset voltage of its inputs appears at the node.
	ByBias, Gain []float64
	// Signed is what each op-amp makes of it (V) with its sign: its offset voltage, and the
	// bias currents of its + and its - input, as in Nominal.
	Signed [][3]float64
}

// DC solves the circuit with its capacitors open, its sources at 0 V and its
// op-amps' offsets and bias currents as in Offsets.Nominal; Voltage then gives
// the nodes. It fails with a *Singular where a node has no DC path.
func (s *Solver) DC() error {
	s.hz = -1
	if s.dc == nil {
		p, err := newPlan(s, 0)
		if err != nil {
			return err
		}
		s.dc = p
	}
	if s.dc.slots > len(s.factors) {
		s.factors = make([]complex128, s.dc.slots)
	}
	clear(s.rhs)
	for i, p := range s.parts {
		if p.Kind != netlist.Amplifier || p.Model.Ideal {
			continue
		}
		s.rhs[s.branch[i]] += complex(p.Model.OffsetV, 0)
		for _, n := range p.Nodes[:2] {
			if n != netlist.Ground {
				s.rhs[unknown(n)] -= complex(p.Model.BiasA*unitOhm, 0)
			}
		}
	}
	s.factor(s.dc, 0)
	if r := s.solve(s.dc); !(r <= maxResidual) {
		p, err := newPlan(s, 0)
		if err != nil {
			return err
		}
		s.dc = p
		s.factors = make([]complex128, max(p.slots, s.ac.slots))
		s.factor(p, 0)
		if r = s.solve(p); !(r <= maxResidual) {
			return &Singular{}
		}
	}
	return nil
}

// Offsets is the DC voltage at a node and what it is made of. It solves DC
// first, so that Voltage gives DC voltages afterwards.
func (s *Solver) Offsets(out netlist.Node) (Offsets, error) {
	if err := s.DC(); err != nil {
		return Offsets{}, err
	}
	o := Offsets{Nominal: real(s.Voltage(out)), ByPart: make([]float64, len(s.parts)),
		ByBias: make([]float64, len(s.parts)), Gain: make([]float64, len(s.parts)), Signed: make([][3]float64, len(s.parts))}
	s.transfer(s.dc, out)
	for i, p := range s.parts {
		if p.Kind != netlist.Amplifier || p.Model.Ideal {
			continue
		}
		o.Gain[i] = math.Abs(real(s.adjoint[s.branch[i]]))
		o.Signed[i][0] = real(s.adjoint[s.branch[i]]) * p.Model.OffsetV
		share := math.Abs(o.Signed[i][0])
		for k, n := range p.Nodes[:2] {
			o.Signed[i][1+k] = -real(s.across(s.adjoint, n, netlist.Ground)) * p.Model.BiasA * unitOhm
			v := math.Abs(o.Signed[i][1+k])
			share += v
			o.ByBias[i] += v
		}
		o.ByPart[i] = share
		o.Worst += share
	}
	return o, nil
}

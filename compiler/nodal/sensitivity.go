package nodal

import (
	"math"

	"bandwright/compiler/netlist"
)

// Sensitivities puts d ln V(out) / d ln value of every part into dst, one
// element a part, at the frequency of the present solution: the real part is
// the relative change of the magnitude, the imaginary part the change of phase
// in radians, for a relative change of the part. For an op-amp the value is its
// gain-bandwidth, for an ideal one the element is 0; for a source its level.
// Where V(out) is 0 there is no logarithm, and dst is filled with zeros.
//
// All of them come from one adjoint solution (Director, Rohrer, IEEE Trans.
// Circuit Theory 16, 1969).
func (s *Solver) Sensitivities(dst []complex128, out netlist.Node) error {
	if s.hz < 0 {
		return errUnsolved
	}
	clear(dst)
	v := s.Voltage(out)
	if v == 0 {
		return nil
	}
	s.transfer(s.ac, out)
	w := 2 * math.Pi * s.hz
	for i, p := range s.parts[:min(len(dst), len(s.parts))] {
		a, b := p.Nodes[0], p.Nodes[1]
		switch p.Kind {
		case netlist.Resistor, netlist.Capacitor:
			y := complex(admittance(p), 0)
			if p.Kind == netlist.Capacitor {
				y = complex(0, -w*real(y))
			}
			dst[i] = s.across(s.adjoint, a, b) * s.across(s.x, a, b) * y / v
		case netlist.Source:
			dst[i] = s.adjoint[s.branch[i]] * complex(p.Value, 0) / v
		case netlist.Amplifier:
			if p.Model.Ideal {
				continue
			}
			k := s.branch[i]
			inner := s.across(s.x, p.Nodes[2], netlist.Ground) - complex(p.Model.OutputOhm/unitOhm, 0)*s.x[k]
			dst[i] = s.adjoint[k] * inner * complex(0, w/(2*math.Pi*p.Model.GainBandwidthHz)) / v
		}
	}
	return nil
}

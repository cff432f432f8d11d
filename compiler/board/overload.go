package board

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
)

// strainPerOctave is the density of the frequencies at which op-amps are looked
// at beside the stages' own: a twelfth of an octave beside a true maximum of a
// Q of 3 or less. clipSteps is how often the interval around the highest output
// is narrowed to 0.618 of it.
const strainPerOctave, clipSteps = 12, 30

// strain is what a sine of 1 V peak at the input asks of one op-amp: volts, at a
// frequency, and as a share of what the op-amp can.
type strain struct {
	ref          string
	v, hz, share float64
}

// strains are the greatest ones on a way's path in one combination: of op-amps'
// outputs, of how fast they change, of op-amps' inputs, and of the current (A instead of
// V, as a share of easyA) that outputs have to give.
type strains struct{ swing, slew, common, current strain }

// easyA (A, peak) is what every op-amp for audio gives without distortion.
const easyA = 10e-3

// clipV is the sine at the input (V RMS) with which the first op-amp reaches its
// swing; 0 where none ever does.
func (s strains) clipV(m netlist.OpAmp) float64 {
	if !(s.swing.v > 0) {
		return 0
	}
	return m.SwingV / (math.Sqrt2 * s.swing.v)
}

// strained looks at the op-amps of a way, common stages included. What the board
// was made for has been looked at already.
func (b *Board) strained(c verify.Case) (strains, error) {
	if s, ok := b.wiring.strained[strainKey(c)]; ok {
		return s, nil
	}
	solver := b.wiring.in(c.C)
	amps, natural := b.amplifiers(c)
	grid := biquad.Octaves(b.bandHz[0], b.bandHz[1], strainPerOctave, natural...)
	var out strains
	top := 0
	for i, hz := range grid {
		before := out.swing
		if err := out.add(solver, amps, hz); err != nil {
			return out, err
		}
		if out.swing != before {
			top = i
		}
	}
	err := out.refine(solver, amps, grid[max(top-1, 0)], grid[min(top+1, len(grid)-1)])
	return out, err
}

func strainKey(c verify.Case) string { return string(append([]byte{byte(c.Way)}, c.C...)) }

// add takes what op-amps do at a frequency into account.
func (s *strains) add(solver *nodal.Solver, amps []amplifier, hz float64) error {
	if err := solver.At(hz); err != nil {
		return err
	}
	for _, p := range amps {
		worse := func(of *strain, v, share float64) {
			if share > of.share {
				*of = strain{p.Ref, v, hz, share}
			}
		}
		m, in, out := p.Model, cmplx.Abs(solver.Voltage(p.Nodes[0])), cmplx.Abs(solver.Voltage(p.Nodes[2]))
		if m.SwingV > 0 {
			worse(&s.swing, out, out/m.SwingV)
		}
		if m.SlewVPerS > 0 {
			worse(&s.slew, out, out*2*math.Pi*hz/m.SlewVPerS)
		}
		if m.CommonModeV > 0 {
			worse(&s.common, in, in/m.CommonModeV)
		}
		i := cmplx.Abs(solver.Current(p.index))
		worse(&s.current, i, i/easyA)
	}
	return nil
}

// refine looks for the highest output between two frequencies (Hz).
func (s *strains) refine(solver *nodal.Solver, amps []amplifier, a, b float64) error {
	var failed error
	at := func(hz float64) float64 {
		var here strains
		if err := here.add(solver, amps, hz); err != nil {
			failed = err
		}
		return here.swing.share
	}
	p := biquad.Summit(a, b, clipSteps, at)
	if failed != nil {
		return failed
	}
	return s.add(solver, amps, p)
}

// amplifier is an op-amp and which of the circuit's parts it is.
type amplifier struct {
	netlist.Part
	index int
}

// amplifiers are the op-amps that signal passes through on its way in one
// combination, and the natural frequencies (Hz) of their stages.
func (b *Board) amplifiers(c verify.Case) (amps []amplifier, natural []float64) {
	circuit := b.wiring.circuit
	for _, chain := range []*Chain{&b.Common, &b.Ways[c.Way].Chain} {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			for _, s := range x.Alt[x.Index(c.C)].Stages {
				if w, _ := s.Section.Natural(); w > 0 {
					natural = append(natural, w/(2*math.Pi))
				}
				for k, e := range s.Topology.Template {
					if e.Kind != netlist.Amplifier {
						continue
					}
					if p, ok := circuit.Part(s.Refs[k]); ok {
						amps = append(amps, amplifier{circuit.Parts()[p], p})
					}
				}
			}
		}
	}
	return amps, natural
}

// mostStrained is the greatest strain of each sort in the cases that the board is judged
// in: none of a case without a solution, in which no promise about the response is kept.
func (b *Board) mostStrained(cases []verify.Case) strains {
	all := make([]strains, len(cases))
	solved := make([]bool, len(cases))
	parallel.Each(len(cases), func(i int) {
		if cases[i].C != nil {
			s, err := b.strained(cases[i])
			all[i], solved[i] = s, err == nil
		}
	})
	b.wiring.strained = map[string]strains{}
	var worst strains
	for i, s := range all {
		if !solved[i] {
			continue
		}
		b.wiring.strained[strainKey(cases[i])] = s
		for k, of := range [...]*strain{&worst.swing, &worst.slew, &worst.common, &worst.current} {
			if x := [...]strain{s.swing, s.slew, s.common, s.current}[k]; x.share > of.share {
				*of = x
			}
		}
	}
	return worst
}

package board

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/verify"
)

const (
	// noiseFromHz and noiseToHz are what noise is summed over, as that of numbers is.
	noiseFromHz, noiseToHz = 20.0, 20e3
	// roomK (K) is the temperature of noise figures, 27 °C as circuit simulators have
	// it.
	roomK = 300.15
	// clipPerOctave is the density of the frequencies that op-amps' outputs are looked
	// at beside the stages' own, and clipSteps how often the interval around the highest is narrowed to 0.618
	// of it.
	clipPerOctave, clipSteps = 12, 30
)

// InputV is the level (V RMS) that the input is made for.
func (b *Board) InputV() float64 { return b.Spec.Input.LevelV }

// Electric implements verify.Circuit: noise and direct voltage at a way's output, and
// the sine at the input with which the first op-amp of the way, common stages
// included, reaches its swing.
func (b *Board) Electric(way int, c biquad.Combination, lowHz, highHz float64) (verify.Electric, error) {
	var e verify.Electric
	var err error
	s, out := b.wiring.in(c), b.wiring.outs[way]
	if e.NoiseV, e.NoiseAV, err = s.IntegratedNoise(out, roomK, noiseFromHz, noiseToHz); err != nil {
		return e, err
	}
	if b.OpAmp.SwingV > 0 {
		var gain float64
		nodes, natural := b.outputs(way, c)
		if gain, e.ClipHz, err = highest(s, nodes, biquad.Octaves(lowHz, highHz, clipPerOctave, natural...)); err != nil {
			return e, err
		}
		if gain > 0 {
			e.ClipV = b.OpAmp.SwingV / (math.Sqrt2 * gain)
		}
	}
	o, err := s.Offsets(out)
	e.OffsetV = o.Worst
	return e, err
}

// outputs are the nodes that op-amps drive which signal passes through on its way, in
// one combination, and the natural frequencies (Hz) of the stages.
func (b *Board) outputs(way int, c biquad.Combination) (out []netlist.Node, natural []float64) {
	circuit := b.wiring.circuit
	for _, chain := range []*Chain{&b.Common, &b.Ways[way].Chain} {
		for i := range chain.Positions {
			x := &chain.Positions[i]
			for _, s := range x.Alt[x.Index(c)].Stages {
				if w, _ := s.Section.Natural(); w > 0 {
					natural = append(natural, w/(2*math.Pi))
				}
				for k, e := range s.Topology.Template {
					if e.Kind != netlist.Amplifier {
						continue
					}
					if p, ok := circuit.Part(s.Refs[k]); ok {
						out = append(out, circuit.Parts()[p].Nodes[2])
					}
				}
			}
		}
	}
	return out, natural
}

// highest is the largest magnitude (V) of several nodes in a band, and where (Hz): at
// the highest of a grid (Hz, ascending), narrowed by golden sections (Kiefer, Proc. AMS
// 4, 1953).
func highest(s *nodal.Solver, nodes []netlist.Node, grid []float64) (v, hz float64, err error) {
	at := func(hz float64) float64 {
		if e := s.At(hz); e != nil {
			err = e
			return 0
		}
		worst := 0.0
		for _, n := range nodes {
			worst = math.Max(worst, cmplx.Abs(s.Voltage(n)))
		}
		return worst
	}
	top := 0
	for i, f := range grid {
		if m := at(f); m > v {
			v, top = m, i
		}
	}
	hz = grid[top]
	a, b := grid[max(top-1, 0)], grid[min(top+1, len(grid)-1)]
	ratio := (math.Sqrt(5) - 1) / 2
	p, q := b-ratio*(b-a), a+ratio*(b-a)
	fp, fq := at(p), at(q)
	for range clipSteps {
		if fp > fq {
			b, q, fq = q, p, fp
			p = b - ratio*(b-a)
			fp = at(p)
		} else {
			a, p, fp = p, q, fq
			q = a + ratio*(b-a)
			fq = at(q)
		}
	}
	if fp > v {
		v, hz = fp, p
	}
	return v, hz, err
}

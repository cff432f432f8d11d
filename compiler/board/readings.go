package board

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"

	"bandwright/biquad"
	"bandwright/compiler/netlist"
	"bandwright/compiler/nodal"
	"bandwright/compiler/parallel"
	"bandwright/compiler/verify"
	"bandwright/compiler/words"
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

// InputV implements verify.Driven: the level (V RMS) that the input is made for.
func (b *Board) InputV() float64 { return b.Spec.Input.LevelV }

// DownToDB implements verify.Strays.
func (b *Board) DownToDB() float64 { return -downDB }

// Reads implements verify.Meter.
func (b *Board) Reads() []*verify.Quantity {
	return []*verify.Quantity{verify.NoiseV, verify.NoiseAV, verify.Offset, verify.Clip}
}

// Readings implements verify.Meter: noise and DC offset at each way's output, and
// the sine at the input with which the first op-amp of the way, common stages
// included, reaches its swing.
func (b *Board) Readings(cases []verify.Case, lowHz, highHz float64) [][]verify.Reading {
	out := make([][]verify.Reading, len(cases))
	parallel.Each(len(cases), func(i int) {
		if c := cases[i]; c.C != nil {
			out[i] = b.readings(c, lowHz, highHz)
		}
	})
	return out
}

// readings are those of one case; none where its equations have no solution, which
// no promise about its response survives.
func (b *Board) readings(c verify.Case, lowHz, highHz float64) []verify.Reading {
	s, out := b.wiring.in(c.C), b.wiring.outs[c.Way]
	flat, weighted, err := s.IntegratedNoise(out, roomK, noiseFromHz, noiseToHz)
	if err != nil {
		return nil
	}
	offset, err := s.Offsets(out)
	if err != nil {
		return nil
	}
	all := []verify.Reading{{Of: verify.NoiseV, Value: flat}, {Of: verify.NoiseAV, Value: weighted}, {Of: verify.Offset, Value: offset.Worst}}
	if b.OpAmp.SwingV > 0 {
		nodes, natural := b.outputs(c.Way, c.C)
		gain, hz, err := highest(s, nodes, biquad.Octaves(lowHz, highHz, clipPerOctave, natural...))
		if err != nil {
			return nil
		}
		if gain > 0 {
			all = append(all, verify.Reading{Of: verify.Clip, Value: 1 / (1 / (b.OpAmp.SwingV / (math.Sqrt2 * gain))), AtHz: hz})
		}
	}
	return all
}

// Limits implements verify.Limited.
func (b *Board) Limits(q *verify.Quantity, _ int, f verify.Finding) (cause, remedy string) {
	switch q {
	case verify.NoiseV:
		return "", "lower board.resistors.to, give board.op-amp a lower voltage-noise or current-noise, put a way's gain into the power amplifier"
	case verify.Clip:
		return "", fmt.Sprintf("lower board.input.level by %s dB, the boost that peaks at %s, or the gains before it, or raise board.supply",
			strconv.FormatFloat(math.Ceil((f.Worst-f.Limit)*10)/10, 'f', -1, 64), words.Hz(f.AtHz))
	}
	return "", "give board.resistors and board.capacitors finer series or wider ranges, or board.op-amp a higher gain-bandwidth"
}

var _ interface {
	verify.Driven
	verify.Strays
	verify.Meter
	verify.Limited
} = (*Board)(nil)

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

package main

import (
	"math"

	"bandwright/biquad"
	"bandwright/biquad/engine"
	"bandwright/compiler"
)

// enginePlayer plays as somebody else's engine does, which neither fades in nor knows
// garbage: what is no number goes in as silence. The delay is made outside.
type enginePlayer struct {
	ways  []*engine.Machine
	full  []float64 // of a way, the number of steps to full scale
	lines [][]float64
	laid  *compiler.Laid
	words []int64
}

func newEnginePlayer(l *compiler.Laid, with biquad.Combination) *enginePlayer {
	p := &enginePlayer{laid: l}
	for _, c := range l.Chains {
		p.ways = append(p.ways, c.NewMachine(with))
		p.full = append(p.full, math.Ldexp(1, c.Data-1))
		p.lines = append(p.lines, make([]float64, c.DelaySamples))
	}
	return p
}

// Garbage is false: an engine has no word for it.
func (p *enginePlayer) Garbage() bool { return false }

// Run plays a block.
func (p *enginePlayer) Run(in []float64) [][]float64 {
	out := make([][]float64, len(p.ways))
	for k, m := range p.ways {
		p.words = p.words[:0]
		for _, x := range in {
			if math.IsNaN(x) {
				x = 0
			}
			p.words = append(p.words, p.laid.Chains[k].Sample(x))
		}
		m.Run(p.words)
		y := p.lines[k]
		for _, w := range p.words {
			y = append(y, float64(w)/p.full[k])
		}
		out[k] = y[:len(in)]
		p.lines[k] = append([]float64{}, y[len(in):]...)
	}
	return out
}

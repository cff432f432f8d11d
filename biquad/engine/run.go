package engine

import "bandwright/biquad"

// Words are a section's coefficients as integers: b0, b1, b2, a1, a2, of
//
//	H = (b0 + b1·z⁻¹ + b2·z⁻²) / (1 + a1·z⁻¹ + a2·z⁻²).
type Words [5]int64

// signed is a coefficient as the equations add it: those of the feedback are
// subtracted.
func (w *Words) signed(i int) int64 {
	if i >= 3 {
		return -w[i]
	}
	return w[i]
}

// section is one that runs.
type section struct {
	words   Words
	samples [4]int64
	sums    [2]wide
}

// Machine runs a chain in one combination of settings.
type Machine struct {
	engine   *Engine
	sections []section
}

// NewMachine is a chain at rest, with the sections that a combination picks.
func (c *Chain) NewMachine(combination biquad.Combination) *Machine {
	m := &Machine{engine: &c.Engine}
	for i := range c.Positions {
		p := &c.Positions[i]
		m.sections = append(m.sections, section{words: p.Alt[p.Index(combination)]})
	}
	return m
}

// Run takes samples through the chain, in place.
func (m *Machine) Run(samples []int64) {
	for n, x := range samples {
		for i := range m.sections {
			x = m.engine.Form.step(m.engine, &m.sections[i], x)
		}
		samples[n] = x
	}
}

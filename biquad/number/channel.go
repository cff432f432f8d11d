package number

import (
	"slices"

	"bandwright/biquad"
)

// settling is how many samples a changed position still runs with its old
// section: as many as a section of second order remembers.
const settling = 2

// channel is the simulation of one channel in a type of the host's.
type channel[V host] struct {
	*code[V]
	common  cascade[V]
	ways    []cascade[V]
	choice  biquad.Combination // as last asked for
	running bool               // a sample has run since the last reset
	left    int                // samples until a switch is done
}

// cascade is one cascade: its registers, its delay line and its positions.
type cascade[V host] struct {
	r         []V
	line      []V // the delay, a ring
	at        int
	positions []position[V]
}

// position is one position: the rows of its alternatives, and its registers
// with the words of the one in use.
type position[V host] struct {
	slot  biquad.Slot[biquad.Digital]
	rows  [][]V
	inUse int
	r     []V
}

func (c *code[V]) channel(f Format, s biquad.System[biquad.Digital], inputGain, rateHz float64) simulation {
	m := &channel[V]{code: c, common: c.cascade(f.InputWord(s, inputGain), s.Common, rateHz)}
	for _, w := range s.Ways {
		m.ways = append(m.ways, c.cascade(f.WayWord(w), w.Cascade, rateHz))
	}
	return m
}

// cascade is one ready to run.
func (c *code[V]) cascade(gain float64, from biquad.Cascade[biquad.Digital], rateHz float64) cascade[V] {
	out := cascade[V]{r: slices.Clone(c.initial), line: make([]V, DelaySamples(from, rateHz))}
	out.r[c.gainWord] = c.word(gain)
	for _, s := range from.Slots {
		p := position[V]{slot: s, r: slices.Clone(c.initial)}
		for _, r := range Rows(s, rateHz) {
			p.rows = append(p.rows, c.row(r))
		}
		out.positions = append(out.positions, p)
	}
	return out
}

func (m *channel[V]) reset() {
	m.rest(&m.common)
	for i := range m.ways {
		m.rest(&m.ways[i])
	}
	m.running, m.left = false, 0
}

// rest clears a cascade's states and gives it the sections of the choices.
func (m *channel[V]) rest(c *cascade[V]) {
	clear(c.line)
	c.at = 0
	for i := range c.positions {
		p := &c.positions[i]
		clear(p.r[m.words : m.words+m.states])
		p.load(p.slot.Index(m.choice))
	}
}

// load puts the words of an alternative into the registers.
func (p *position[V]) load(alternative int) {
	p.inUse = alternative
	copy(p.r, p.rows[alternative])
}

func (m *channel[V]) set(c biquad.Combination) {
	if m.running && slices.Equal(c, m.choice) {
		return
	}
	m.choice = c
	if !m.running {
		m.reset()
		return
	}
	if m.left == 0 {
		m.left = settling
	}
}

func (m *channel[V]) run(in []float64, out [][]float64) {
	for n, x := range in {
		m.common.r[m.in] = m.sample(x)
		m.execute(m.take, m.common.r)
		common := m.pass(&m.common, m.common.r[m.x])
		for w := range out {
			c := &m.ways[w]
			c.r[m.x] = m.pass(c, common)
			m.execute(m.give, c.r)
			out[w][n] = m.value(c.r[m.out])
		}
		if m.left > 0 {
			m.left--
		}
		m.running = true
	}
}

// pass takes one sample through one cascade.
func (m *channel[V]) pass(c *cascade[V], x V) V {
	c.r[m.x] = x
	m.execute(m.gain, c.r)
	x = c.r[m.x]
	if len(c.line) > 0 {
		x, c.line[c.at] = c.line[c.at], x
		c.at = (c.at + 1) % len(c.line)
	}
	for i := range c.positions {
		p := &c.positions[i]
		p.r[m.x] = x
		m.execute(m.section, p.r)
		y := p.r[m.y]
		switch m.left {
		case 2:
			p.r[m.x2], p.r[m.y2] = x, y
		case 1:
			m.change(p)
		}
		x = y
	}
	return x
}

// change goes over to the alternative that the choices pick. Its states become
// what it would hold had it made the two outputs of the switch.
func (m *channel[V]) change(p *position[V]) {
	next := p.slot.Index(m.choice)
	if next == p.inUse {
		return
	}
	p.load(next)
	m.execute(m.resume, p.r)
	for _, word := range m.secondOrderBy {
		if p.r[word] != 0 {
			m.execute(m.second, p.r)
			return
		}
	}
	m.execute(m.first, p.r)
}

package number

import (
	"cmp"
	"slices"

	"bandwright/biquad"
)

// channel is the simulation of one channel in a type of the host's.
type channel[V host] struct {
	*code[V]
	cascades []cascade[V] // the common one, then the ways'
	r        []V          // registers of the fades
	plan     plan
	tiny     []V    // of each state
	beyond   uint32 // size of what is no sample

	wanted, chosen, next biquad.Combination
	silenced             bool // as last asked for
	count                int  // samples since the start, up to RestEvery
	fresh                bool // no tick since the reset
	dead                 bool // since a sample that is garbage
	change               int  // samples since the change of a setting began; -1 for none
	open                 int  // samples of the fade from silence that are done
	step                 int  // 1 while that fade runs, -1 while it runs back
	outputs              int  // those of the channels before this one
}

// plan is the lengths of a change, in samples.
type plan struct{ settle, fade int }

// cascade is one cascade: its registers, its delay line and its sections. Those
// of now are run; while a setting changes those of then are run as well, from
// position from on.
type cascade[V host] struct {
	r         []V
	line      []V // the delay, a ring
	lineAt    int
	first     bool // the common one
	twice     bool
	from      int
	positions []position[V]
	now, then []section[V]
}

// position is one position, with the rows of its alternatives.
type position[V host] struct {
	slot  biquad.Slot[biquad.Digital]
	rows  []Row
	words [][]V
}

// section is one in use: the instructions of its form, the same in the host's own
// operations where there are such, and its registers.
type section[V host] struct {
	through  bool
	program  []instruction[V]
	natively func(r []V, x V) V
	r        []V
}

func (c *code[V]) channel(f Format, s biquad.System[biquad.Digital], inputGain, rateHz, fadeS float64) simulation {
	m := &channel[V]{code: c, r: slices.Clone(c.initial), beyond: f.C.Garbage, change: -1, fresh: true}
	for _, v := range f.Kernel.States {
		m.tiny = append(m.tiny, c.word(cmp.Or(v.Still, f.C.Tiny)))
	}
	m.plan = plan{settle: SettleSamples(s), fade: FadeSamples(fadeS, rateHz)}
	m.r[c.steps] = c.word(1 / float64(m.plan.fade))
	twice, late := DoubledOf(s), Late(s, rateHz)
	m.cascades = append(m.cascades, c.cascade(f.InputWord(s, inputGain), s.Common, late[0], twice[0]))
	m.cascades[0].first = true
	for i, w := range s.Ways {
		m.cascades = append(m.cascades, c.cascade(f.WayWord(w), w.Cascade, late[i+1], twice[i+1]))
	}
	m.sow()
	return m
}

// sow begins the dither of every output.
func (m *channel[V]) sow() {
	if m.seed < 0 {
		return
	}
	for w := range m.cascades[1:] {
		m.cascades[1+w].r[m.seed] = V(FirstSeed(m.outputs + w))
	}
}

func (m *channel[V]) behind(outputs int) {
	m.outputs = outputs
	m.sow()
}

// cascade is one ready to run.
func (c *code[V]) cascade(gain float64, from biquad.Cascade[biquad.Digital], late int, d Doubled) cascade[V] {
	out := cascade[V]{r: slices.Clone(c.initial), line: make([]V, late), twice: d.Twice, from: d.From}
	out.r[c.gainWord] = c.word(gain)
	for _, s := range from.Slots {
		p := position[V]{slot: s, rows: Rows(s)}
		for _, r := range p.rows {
			p.words = append(p.words, c.row(r))
		}
		out.positions = append(out.positions, p)
	}
	return out
}

// sections are those of a cascade that the choices pick, from a position on, at
// rest.
func (m *channel[V]) sections(c *cascade[V], from int, choice biquad.Combination) []section[V] {
	var out []section[V]
	for i := from; i < len(c.positions); i++ {
		p := &c.positions[i]
		k := p.slot.Index(choice)
		s := section[V]{through: p.rows[k].Through(), program: m.section[p.rows[k].Form], natively: m.natively[p.rows[k].Form], r: slices.Clone(m.initial)}
		copy(s.r, p.words[k])
		out = append(out, s)
	}
	return out
}

func (m *channel[V]) set(c biquad.Combination) { m.wanted = c }
func (m *channel[V]) mute(on bool)             { m.silenced = on }
func (m *channel[V]) garbage() bool            { return m.dead }

func (m *channel[V]) clone() simulation {
	t := *m
	t.r, t.cascades = slices.Clone(m.r), slices.Clone(m.cascades)
	for i := range t.cascades {
		c := &t.cascades[i]
		c.r, c.line, c.now, c.then = slices.Clone(c.r), slices.Clone(c.line), slices.Clone(c.now), slices.Clone(c.then)
		for _, sections := range [...][]section[V]{c.now, c.then} {
			for k := range sections {
				sections[k].r = slices.Clone(sections[k].r)
			}
		}
	}
	return &t
}

func (m *channel[V]) reset() {
	m.restart()
	m.count = 0
}

// restart is a reset of this channel alone: ticks go on where they are.
func (m *channel[V]) restart() {
	m.fresh, m.dead, m.change, m.open, m.step = true, false, -1, 0, 0
	for i := range m.cascades {
		clear(m.cascades[i].line)
		m.cascades[i].lineAt = 0
	}
	m.sow()
}

// tick is what happens between two samples every Tick samples: changes end and
// begin.
func (m *channel[V]) tick() {
	if m.fresh {
		m.fresh = false
		m.chosen = m.wanted
		for i := range m.cascades {
			c := &m.cascades[i]
			c.now = m.sections(c, 0, m.chosen)
		}
	}
	if m.change == m.plan.settle+m.plan.fade {
		m.change, m.chosen = -1, m.next
		for i := range m.cascades {
			c := &m.cascades[i]
			copy(c.now[c.from:], c.then)
		}
	}
	if m.change < 0 && !slices.Equal(m.wanted, m.chosen) {
		m.change, m.next = 0, m.wanted
		for i := range m.cascades {
			c := &m.cascades[i]
			c.then = m.sections(c, c.from, m.next)
		}
	}
	switch {
	case m.silenced && m.open == m.plan.fade:
		m.step = -1
	case !m.silenced && m.open == 0:
		m.step = 1
	case m.open == 0 || m.open == m.plan.fade:
		m.step = 0
	}
	if m.count == 0 {
		m.rest()
	}
}

// rest clears the memory of sections in which next to nothing is left, so that
// silence comes to an end everywhere at the same sample.
func (m *channel[V]) rest() {
	for i := range m.cascades {
		c := &m.cascades[i]
		for _, list := range [][]section[V]{c.now, c.then} {
			for _, s := range list {
				m.settle(s.r[m.words : m.words+m.states])
			}
		}
	}
}

// settle clears the states of a section where all are tiny.
func (m *channel[V]) settle(states []V) {
	for i, v := range states {
		if !(v < m.tiny[i] && v > -m.tiny[i]) {
			return
		}
	}
	clear(states)
}

func (m *channel[V]) run(in []float64, out [][]float64) {
	for n, x := range in {
		if m.count%Tick == 0 {
			m.tick()
		}
		sample := m.sample(x)
		if m.size != nil && !m.fresh && m.size(sample) >= m.beyond {
			m.dead = true
		}
		for w := range out {
			out[w][n] = 0
		}
		if !m.fresh && !m.dead {
			m.through(sample, out, n)
		}
		m.count = (m.count + 1) % RestEvery
		if m.change >= 0 {
			m.change++
		}
		m.open += m.step
		if m.open == 0 || m.open == m.plan.fade {
			m.step = 0
		}
	}
}

// through takes one sample through all cascades.
func (m *channel[V]) through(sample V, out [][]float64, n int) {
	common := &m.cascades[0]
	common.r[m.in] = sample
	m.execute(m.take, common.r)
	now, then := m.pass(common, common.r[m.x], common.r[m.x])
	for w := range out {
		c := &m.cascades[1+w]
		y, z := m.pass(c, now, then)
		if m.change >= m.plan.settle && c.twice {
			m.weighted(m.change-m.plan.settle, y, z, m.mix)
			y = m.r[m.y]
		}
		switch {
		case m.open == 0 && m.step == 0:
			continue
		case m.open < m.plan.fade || m.step < 0:
			m.weighted(m.open, y, y, m.fade)
			y = m.r[m.y]
		}
		c.r[m.x] = y
		m.execute(m.give, c.r)
		out[w][n] = m.value(c.r[m.out])
	}
}

// weighted runs a fade's program on y and z, so many samples after its start.
func (m *channel[V]) weighted(at int, y, z V, program []instruction[V]) {
	m.r[m.at] = V(at)
	m.execute(m.weight, m.r)
	m.r[m.y], m.r[m.z] = y, z
	m.execute(program, m.r)
}

// pass takes one sample through one cascade: now through the sections of now,
// and while a setting changes then through those of then.
func (m *channel[V]) pass(c *cascade[V], now, then V) (V, V) {
	c.r[m.x] = c.delay(now)
	m.execute(m.gain, c.r)
	now = c.r[m.x]
	before := now
	for i := range c.now {
		if i == c.from {
			before = now
		}
		now = m.one(&c.now[i], now)
	}
	if c.from == len(c.now) {
		before = now
	}
	if m.change < 0 || !c.twice {
		return now, now
	}
	if c.from == 0 && !c.first { // the way of its own old and new common part, where nothing waits
		c.r[m.x] = then
		m.execute(m.gain, c.r)
		before = c.r[m.x]
	}
	for i := range c.then {
		before = m.one(&c.then[i], before)
	}
	return now, before
}

// one takes a sample through a section.
func (m *channel[V]) one(s *section[V], x V) V {
	if s.through {
		return x
	}
	if s.natively != nil {
		return s.natively(s.r, x)
	}
	s.r[m.x] = x
	m.execute(s.program, s.r)
	return s.r[m.y]
}

// delay is the sample that went in so many samples ago.
func (c *cascade[V]) delay(x V) V {
	if len(c.line) > 0 {
		x, c.line[c.lineAt] = c.line[c.lineAt], x
		if c.lineAt++; c.lineAt == len(c.line) {
			c.lineAt = 0
		}
	}
	return x
}

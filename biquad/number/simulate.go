package number

import (
	"strconv"

	"bandwright/biquad"
)

// settling is how many samples a changed position still runs with its old
// section: as many as a section of second order remembers.
const settling = 2

// instruction is r[to] = r[a] op r[b] on the registers r of a position or a
// cascade. A copy has no operator.
type instruction[V host] struct {
	op       byte // '+', '-', '*', '=' or, for a call, 'f'
	a, b, to int
	call     call[V]
}

// runnable is a kernel's programs as instructions. A register belongs to each
// name: the words and the states come first.
type runnable[V host] struct {
	arithmetic[V]
	words, states                                    int // how many
	registers                                        map[string]int
	initial                                          []V // zeros, and the programs' numbers
	take, give, gain, section, resume, first, second []instruction[V]
	secondOrderBy                                    []int
	in, out, gainWord, x, y, x2, y2                  int
}

func compiled[V host](k Kernel, a arithmetic[V]) *runnable[V] {
	c := &runnable[V]{arithmetic: a, words: len(k.Words), states: len(k.States), registers: map[string]int{}}
	for _, v := range append(append([]Variable{}, k.Words...), k.States...) {
		c.register(v.Name)
	}
	c.in, c.out, c.gainWord = c.register("in"), c.register("out"), c.register("gain")
	c.x, c.y, c.x2, c.y2 = c.register("x"), c.register("y"), c.register("x2"), c.register("y2")
	c.take, c.give, c.gain, c.section = c.compile(k.Take), c.compile(k.Give), c.compile(k.Gain), c.compile(k.Section)
	c.resume, c.first, c.second = c.compile(k.Resume), c.compile(k.ResumeFirst), c.compile(k.ResumeSecond)
	for _, name := range k.SecondOrderBy {
		c.secondOrderBy = append(c.secondOrderBy, c.register(name))
	}
	return c
}

func (c *runnable[V]) register(name string) int {
	at, known := c.registers[name]
	if !known {
		at = len(c.initial)
		c.registers[name] = at
		c.initial = append(c.initial, 0)
	}
	return at
}

func (c *runnable[V]) compile(p Program) []instruction[V] {
	var out []instruction[V]
	for _, s := range p {
		n := s.Tree()
		if to := c.register(s.To); n.Op == "" {
			out = append(out, instruction[V]{op: '=', a: c.leaf(n), to: to})
		} else {
			out = c.operation(out, n, to)
		}
	}
	return out
}

func (c *runnable[V]) leaf(n Node) int {
	at := c.register(n.Leaf)
	if n.Number {
		x, err := strconv.ParseFloat(n.Leaf, 64)
		if err != nil {
			panic(err)
		}
		c.initial[at] = c.word(x)
	}
	return at
}

// operation appends what computes n, its arguments first, into the register to.
func (c *runnable[V]) operation(out []instruction[V], n Node, to int) []instruction[V] {
	var at [2]int
	for i, a := range n.Args {
		if a.Op == "" {
			at[i] = c.leaf(a)
			continue
		}
		at[i] = c.register("(" + strconv.Itoa(len(c.initial)))
		out = c.operation(out, a, at[i])
	}
	ins := instruction[V]{op: n.Op[0], a: at[0], b: at[len(n.Args)-1], to: to}
	if n.Call {
		ins.op, ins.call = 'f', c.calls[n.Op]
		if ins.call == nil {
			panic("no function " + n.Op)
		}
	}
	return append(out, ins)
}

// run executes a program on registers. Every result is a word before the next
// instruction begins, which keeps Go from fusing.
func (c *runnable[V]) run(program []instruction[V], r []V) {
	for i := range program {
		p := &program[i]
		a, b := r[p.a], r[p.b]
		var v V
		switch p.op {
		case '+':
			v = a + b
		case '-':
			v = a - b
		case '*':
			v = V(a * b)
		case 'f':
			r[p.to] = p.call(a, b)
			continue
		default:
			r[p.to] = a
			continue
		}
		if c.round != nil {
			v = c.round(v)
		}
		r[p.to] = v
	}
}

// channel is the simulation of one channel.
type channel[V host] struct {
	*runnable[V]
	chains  []registered[V]
	choice  biquad.Combination // as last asked for
	running bool               // a sample has run since the last reset
	left    int                // samples until a switch is done
}

// registered is one cascade.
type registered[V host] struct {
	r         []V
	line      []V // the delay, a ring
	at        int
	positions []position[V]
}

// position is one position: the rows of its alternatives, and its registers
// with the words of the one in use.
type position[V host] struct {
	slot biquad.Slot[biquad.Digital]
	rows [][]V
	use  int
	r    []V
}

func (c *runnable[V]) machine(chains []chain) simulation {
	m := &channel[V]{runnable: c}
	for _, ch := range chains {
		fc := registered[V]{r: c.fresh(), line: make([]V, ch.delay)}
		fc.r[c.gainWord] = c.word(ch.gain)
		for i, s := range ch.slots {
			p := position[V]{slot: s, r: c.fresh()}
			for _, r := range ch.rows[i] {
				p.rows = append(p.rows, c.row(r))
			}
			fc.positions = append(fc.positions, p)
		}
		m.chains = append(m.chains, fc)
	}
	return m
}

func (c *runnable[V]) fresh() []V { return append([]V{}, c.initial...) }

func (m *channel[V]) reset() {
	for i := range m.chains {
		c := &m.chains[i]
		clear(c.line)
		c.at = 0
		for j := range c.positions {
			p := &c.positions[j]
			clear(p.r[m.words : m.words+m.states])
			p.take(p.slot.Index(m.choice))
		}
	}
	m.running, m.left = false, 0
}

// take puts the words of an alternative into the registers.
func (p *position[V]) take(alternative int) {
	p.use = alternative
	copy(p.r, p.rows[alternative])
}

func (m *channel[V]) set(c biquad.Combination) {
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
	first := &m.chains[0]
	for n, x := range in {
		first.r[m.in] = m.word(x)
		m.runnable.run(m.take, first.r)
		common := m.pass(first, first.r[m.x])
		for w := range out {
			c := &m.chains[1+w]
			c.r[m.x] = m.pass(c, common)
			m.runnable.run(m.give, c.r)
			out[w][n] = m.value(c.r[m.out])
		}
		if m.left > 0 {
			m.left--
		}
		m.running = true
	}
}

// pass takes one sample through one cascade.
func (m *channel[V]) pass(c *registered[V], x V) V {
	c.r[m.x] = x
	m.runnable.run(m.gain, c.r)
	x = c.r[m.x]
	if len(c.line) > 0 {
		x, c.line[c.at] = c.line[c.at], x
		c.at = (c.at + 1) % len(c.line)
	}
	for i := range c.positions {
		p := &c.positions[i]
		p.r[m.x] = x
		m.runnable.run(m.section, p.r)
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
	if next == p.use {
		return
	}
	p.take(next)
	m.runnable.run(m.resume, p.r)
	for _, word := range m.secondOrderBy {
		if p.r[word] != 0 {
			m.runnable.run(m.second, p.r)
			return
		}
	}
	m.runnable.run(m.first, p.r)
}

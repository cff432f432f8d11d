package number

import (
	"slices"
	"strconv"

	"bandwright/biquad"
)

// instruction is r[to] = r[a] op r[b] on the registers r of a position or a
// cascade. A copy has no operator.
type instruction[V host] struct {
	op       byte // '+', '-', '*', '=' or, for a call, 'f'
	a, b, to int
	call     call[V]
}

// code is a kernel's programs as instructions. A register belongs to each
// name: the words and the states come first.
type code[V host] struct {
	arithmetic[V]
	words, states                         int // how many
	registers                             map[string]int
	initial                               []V // zeros, and the programs' numbers
	take, give, gain, weight, mix, fade   []instruction[V]
	section                               map[biquad.Form][]instruction[V]
	natively                              map[biquad.Form]func(r []V, x V) V
	in, out, gainWord, x, y, z, at, steps int
	seed                                  int // -1 where Give remembers nothing
}

func compiled[V host](k Kernel, a arithmetic[V]) *code[V] {
	c := &code[V]{arithmetic: a, words: len(k.Words), states: len(k.States), registers: map[string]int{}}
	for _, v := range slices.Concat(k.Words, k.States) {
		c.register(v.Name)
	}
	c.in, c.out, c.gainWord = c.register("in"), c.register("out"), c.register("gain")
	c.x, c.y, c.z, c.at, c.steps = c.register("x"), c.register("y"), c.register("z"), c.register("at"), c.register("step")
	if c.seed = -1; k.Seed.Name != "" {
		c.seed = c.register(k.Seed.Name)
	}
	c.take, c.give, c.gain = c.compile(k.Take), c.compile(k.Give), c.compile(k.Gain)
	c.weight, c.mix, c.fade = c.compile(k.Weight), c.compile(k.Mix), c.compile(k.Fade)
	c.section, c.natively = map[biquad.Form][]instruction[V]{}, map[biquad.Form]func(r []V, x V) V{}
	for _, form := range biquad.Forms() {
		c.section[form] = c.compile(k.Section(form))
		if a.natively == nil {
			continue
		}
		if f := a.natively(k, form); f != nil {
			c.natively[form] = f
		}
	}
	return c
}

func (c *code[V]) register(name string) int {
	at, known := c.registers[name]
	if !known {
		at = len(c.initial)
		c.registers[name] = at
		c.initial = append(c.initial, 0)
	}
	return at
}

func (c *code[V]) compile(p Program) []instruction[V] {
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

func (c *code[V]) leaf(n Node) int {
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
func (c *code[V]) operation(out []instruction[V], n Node, to int) []instruction[V] {
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

// execute runs a program on registers. Every result is a word before the next
// instruction begins, which keeps Go from fusing.
func (c *code[V]) execute(program []instruction[V], r []V) {
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

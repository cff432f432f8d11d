package parts

import (
	"math/bits"
	"slices"
)

// palette is a set of values, by index.
type palette []uint64

func newPalette(n int) palette   { return make(palette, (n+63)/64) }
func (p palette) add(i int)      { p[i/64] |= 1 << (i % 64) }
func (p palette) drop(i int)     { p[i/64] &^= 1 << (i % 64) }
func (p palette) has(i int) bool { return p[i/64]>>(i%64)&1 == 1 }
func (p palette) allows(q palette) bool {
	for i, w := range q {
		if w&^p[i] != 0 {
			return false
		}
	}
	return true
}

func (p palette) size() int {
	n := 0
	for _, w := range p {
		n += bits.OnesCount64(w)
	}
	return n
}

// list lists the values of a palette.
func (p palette) list() []int {
	var out []int
	for i := range len(p) * 64 {
		if p.has(i) {
			out = append(out, i)
		}
	}
	return out
}

// without is a palette without some values.
func (p palette) without(values ...int) palette {
	q := slices.Clone(p)
	for _, v := range values {
		q.drop(v)
	}
	return q
}

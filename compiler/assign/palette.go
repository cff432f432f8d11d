package assign

import (
	"math/bits"
	"slices"
)

// palette is a set of values, by number.
type palette []uint64

// newPalette is a set of some of n values.
func newPalette(n int, values ...int) palette {
	p := make(palette, (n+63)/64)
	for _, v := range values {
		p.add(v)
	}
	return p
}

func (p palette) add(v int)      { p[v/64] |= 1 << (v % 64) }
func (p palette) has(v int) bool { return p[v/64]>>(v%64)&1 == 1 }

// allows reports whether a palette holds all of another one.
func (p palette) allows(q palette) bool {
	for i, w := range q {
		if w&^p[i] != 0 {
			return false
		}
	}
	return true
}

// list lists the values of a palette.
func (p palette) list() []int {
	var out []int
	for i, w := range p {
		for ; w != 0; w &= w - 1 {
			out = append(out, 64*i+bits.TrailingZeros64(w))
		}
	}
	return out
}

// without is a palette without a value.
func (p palette) without(v int) palette {
	q := slices.Clone(p)
	q[v/64] &^= 1 << (v % 64)
	return q
}

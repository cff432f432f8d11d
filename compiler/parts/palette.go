package parts

import "math/bits"

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

// missing is the one value that p lacks of q, or -1 where it lacks none or more.
func (p palette) missing(q palette) int {
	at := -1
	for i, w := range q {
		if m := w &^ p[i]; m != 0 {
			if at >= 0 || m&(m-1) != 0 {
				return -1
			}
			at = i*64 + bits.TrailingZeros64(m)
		}
	}
	return at
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

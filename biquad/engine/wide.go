package engine

import "math/bits"

// wide is an integer of 128 bits, two's complement.
type wide struct {
	high int64
	low  uint64
}

// bit is 2^n, n below 127.
func bit(n int) wide {
	if n < 64 {
		return wide{0, 1 << n}
	}
	return wide{1 << (n - 64), 0}
}

// times is a product.
func times(a, b int64) wide {
	high, low := bits.Mul64(uint64(a), uint64(b))
	// Mul64 takes both as unsigned: a negative one counts 2^64 too much.
	h := int64(high)
	if a < 0 {
		h -= b
	}
	if b < 0 {
		h -= a
	}
	return wide{h, low}
}

func (w wide) plus(o wide) wide {
	low, carry := bits.Add64(w.low, o.low, 0)
	return wide{w.high + o.high + int64(carry), low}
}

// wrapped keeps n bits, the highest of them as the sign.
func (w wide) wrapped(n int) wide {
	if n >= 128 {
		return w
	}
	up := 128 - n
	return w.up(up).shifted(up)
}

// up is the integer times 2^n, n below 128; what leaves is lost.
func (w wide) up(n int) wide {
	if n >= 64 {
		return wide{int64(w.low << (n - 64)), 0}
	}
	return wide{int64(uint64(w.high)<<n | w.low>>(64-n)), w.low << n}
}

// shifted is the integer over 2^n, rounded down.
func (w wide) shifted(n int) wide {
	if n >= 64 {
		return wide{w.high >> 63, uint64(w.high >> (n - 64))}
	}
	return wide{w.high >> n, uint64(w.high)<<(64-n) | w.low>>n}
}

// limited is the nearest integer of n bits, n up to 64.
func (w wide) limited(n int) int64 {
	most := int64(1)<<(n-1) - 1
	switch {
	case w.high < 0 && (w.high != -1 || int64(w.low) >= 0 || int64(w.low) < -most-1):
		return -most - 1
	case w.high >= 0 && (w.high != 0 || w.low > uint64(most)):
		return most
	}
	return int64(w.low)
}

package biquad

import (
	"math"
	"math/big"
)

// polynomial holds integer coefficients, lowest power first, the last one not
// zero.
type polynomial []*big.Int

func (p polynomial) degree() int { return len(p) - 1 }

// integers is the polynomial with integer coefficients that is c times a power
// of two, made primitive.
func integers(c []float64) polynomial {
	const mantissa = 53
	low := math.MaxInt
	for _, v := range c {
		if v != 0 {
			_, e := math.Frexp(v)
			low = min(low, e-mantissa)
		}
	}
	p := make(polynomial, len(c))
	for k, v := range c {
		f, e := math.Frexp(v)
		p[k] = big.NewInt(int64(math.Ldexp(f, mantissa)))
		if v != 0 {
			p[k].Lsh(p[k], uint(e-mantissa-low))
		}
	}
	return p.primitive()
}

// trimmed drops zero coefficients at the top.
func (p polynomial) trimmed() polynomial {
	for len(p) > 0 && p[len(p)-1].Sign() == 0 {
		p = p[:len(p)-1]
	}
	return p
}

// primitive divides by the greatest common divisor of the coefficients.
func (p polynomial) primitive() polynomial {
	p = p.trimmed()
	g := new(big.Int)
	for _, v := range p {
		if g.GCD(nil, nil, g, new(big.Int).Abs(v)); g.IsInt64() && g.Int64() == 1 {
			return p
		}
	}
	out := make(polynomial, len(p))
	for k, v := range p {
		out[k] = new(big.Int).Quo(v, g)
	}
	return out
}

func (p polynomial) derivative() polynomial {
	d := make(polynomial, p.degree())
	for k := range d {
		d[k] = new(big.Int).Mul(p[k+1], big.NewInt(int64(k+1)))
	}
	return d.primitive()
}

// remainder is the pseudo-remainder of p by q: a multiple of the remainder
// that stays within the integers. The multiple of the quotient comes with it.
func (p polynomial) remainder(q polynomial) (rem, quo polynomial) {
	r := make(polynomial, len(p))
	for k, v := range p {
		r[k] = new(big.Int).Set(v)
	}
	n := q.degree()
	lead := q[n]
	quo = make(polynomial, max(0, len(p)-n))
	for k := range quo {
		quo[k] = new(big.Int)
	}
	for top := len(r) - 1; top >= n; top-- {
		f := new(big.Int).Set(r[top])
		for k := range top + 1 {
			r[k].Mul(r[k], lead)
		}
		for k := range n + 1 {
			r[top-n+k].Sub(r[top-n+k], new(big.Int).Mul(f, q[k]))
		}
		for k := range quo {
			quo[k].Mul(quo[k], lead)
		}
		quo[top-n].Add(quo[top-n], f)
	}
	return r.trimmed(), quo
}

// gcd is the primitive greatest common divisor, by the primitive remainder
// sequence (Knuth, The Art of Computer Programming 2, section 4.6.1).
func gcd(p, q polynomial) polynomial {
	for len(q) > 0 {
		r, _ := p.remainder(q)
		p, q = q, r.primitive()
	}
	return p.primitive()
}

// dividedBy is the primitive quotient of a division without remainder.
func (p polynomial) dividedBy(q polynomial) polynomial {
	_, quo := p.remainder(q)
	return quo.primitive()
}

// squareFree splits p into factors without repeated roots: factor k holds the
// roots of multiplicity k+1.
func squareFree(p polynomial) []polynomial {
	var out []polynomial
	if p.degree() == 0 {
		return nil
	}
	c := gcd(p, p.derivative())
	w := p.dividedBy(c)
	for w.degree() > 0 {
		y := gcd(w, c)
		out = append(out, w.dividedBy(y))
		w, c = y, c.dividedBy(y)
	}
	return out
}

// point is a complex number of high precision.
type point struct{ re, im big.Float }

func newPoint(bits uint) *point {
	p := &point{}
	p.re.SetPrec(bits)
	p.im.SetPrec(bits)
	return p
}

func one(bits uint) *point {
	p := newPoint(bits)
	p.re.SetInt64(1)
	return p
}

// lg is log2|x|, -Inf for zero.
func lg(x *big.Float) float64 {
	if x.Sign() == 0 {
		return math.Inf(-1)
	}
	m := new(big.Float)
	e := x.MantExp(m)
	f, _ := m.Float64()
	return float64(e) + math.Log2(math.Abs(f))
}

// lg is at least log2|z|, and at most half a bit more.
func (z *point) lg() float64 { return z.lgLow() + 0.5 }

// lgLow is at most log2|z|, and at most half a bit less.
func (z *point) lgLow() float64 { return math.Max(lg(&z.re), lg(&z.im)) }

func plus(a, b *point, bits uint) *point {
	r := newPoint(bits)
	r.re.Add(&a.re, &b.re)
	r.im.Add(&a.im, &b.im)
	return r
}

func minus(a, b *point, bits uint) *point {
	r := newPoint(bits)
	r.re.Sub(&a.re, &b.re)
	r.im.Sub(&a.im, &b.im)
	return r
}

func times(a, b *point, bits uint) *point {
	r := newPoint(bits)
	var t big.Float
	t.SetPrec(bits)
	r.re.Sub(r.re.Mul(&a.re, &b.re), t.Mul(&a.im, &b.im))
	r.im.Add(r.im.Mul(&a.re, &b.im), t.Mul(&a.im, &b.re))
	return r
}

// over is a/b, and zero where b is: a step that cannot be taken is not taken.
func over(a, b *point, bits uint) *point {
	if b.re.Sign() == 0 && b.im.Sign() == 0 {
		return newPoint(bits)
	}
	conj := newPoint(bits)
	conj.re.Set(&b.re)
	conj.im.Neg(&b.im)
	r := times(a, conj, bits)
	m := times(b, conj, bits)
	r.re.Quo(&r.re, &m.re)
	r.im.Quo(&r.im, &m.re)
	return r
}

// horner is a polynomial at a precision, ready for evaluation.
type horner struct {
	bits uint
	c    []*big.Float
	lg   []float64 // log2 of the coefficients' magnitudes
}

func (p polynomial) at(bits uint) horner {
	h := horner{bits: bits}
	for _, v := range p {
		f := new(big.Float).SetPrec(bits).SetInt(v)
		h.c, h.lg = append(h.c, f), append(h.lg, lg(f))
	}
	return h
}

func (h horner) degree() int { return len(h.c) - 1 }

// at is the value and the derivative at z, with the logarithm of a bound on
// the value's rounding error: each of Horner's n steps rounds a sum no greater
// than the sum of the terms' magnitudes.
func (h horner) at(z *point) (value, slope *point, lgErr float64) {
	n := h.degree()
	value, slope = newPoint(h.bits), newPoint(h.bits)
	lgZ, worst := z.lg(), math.Inf(-1)
	for k := n; k >= 0; k-- {
		slope = plus(times(slope, z, h.bits), value, h.bits)
		value = times(value, z, h.bits)
		value.re.Add(&value.re, h.c[k])
		worst = math.Max(worst, h.lg[k]+float64(k)*lgZ)
	}
	return value, slope, worst + math.Log2(float64(n+1))*2 + 3 - float64(h.bits)
}

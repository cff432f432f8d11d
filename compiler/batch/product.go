package batch

import (
	"math"
	"math/cmplx"

	"bandwright/compiler/circuit"
)

// form is what of a stage's transfer function hangs on frequency, whatever its parts'
// values are.
type form struct {
	top, bottom side
}

// side is a numerator or a denominator.
type side struct {
	lone   int     // the index of the one coefficient that there is; -1 where there are more
	degree int     // the highest index of a coefficient that there is
	scale  float64 // a power of two that brings it near 1, so that products do not overflow
}

// formOf is a block's form, scaled at an angular frequency (rad/s). Coefficients that
// are zero with two sets of values are so with all of them: two that happen to cancel
// each other in one do not in the other.
func formOf(b *block, omega float64) form {
	others := make([]float64, len(b.nominal))
	for i, v := range b.nominal {
		others[i] = v * (1 + float64(i+1)/(97+float64(i*i)))
	}
	h, g := b.closed(b.nominal), b.closed(others)
	of := func(p, q circuit.Polynomial) side {
		x := side{lone: -1, scale: 1}
		for k := range p {
			switch {
			case p[k] == 0 && q[k] == 0:
				continue
			case x.lone >= 0:
				x.lone = len(p)
			default:
				x.lone = k
			}
			x.degree = k
		}
		if x.lone == len(p) {
			x.lone = -1
		}
		if size := cmplx.Abs(circuit.Ratio{N: p, D: circuit.Polynomial{1}}.At(omega)); size > 0 && !math.IsInf(size, 0) {
			_, e := math.Frexp(size)
			x.scale = math.Ldexp(1, -e)
		}
		return x
	}
	return form{of(h.N, g.N), of(h.D, g.D)}
}

const (
	// expandedTo is the degree up to which sections are multiplied out before they are
	// evaluated: four of the second order. Digits that cancel there are few: each
	// section's terms are at most 2·Q times what they add up to.
	expandedTo = 8
	terms      = expandedTo + 1
)

// expanded is a product of some numerators or denominators.
type expanded struct {
	c      [terms]float64
	degree int
}

// product is a product of stages' transfer functions, without what is the same at
// nominal values: powers of s that stand alone.
type product struct {
	gain         float64
	top, bottom  []expanded
	above, below column
}

// column is numbers over frequency, real and imaginary parts apart.
type column struct{ re, im []float64 }

func (x *product) clear() { x.gain, x.top, x.bottom = 1, x.top[:0], x.bottom[:0] }

// flat tells that the product is its gain at every frequency.
func (x *product) flat() bool { return len(x.top) == 0 && len(x.bottom) == 0 }

// times takes a stage in.
func (x *product) times(f *form, h *circuit.Ratio) {
	if f.top.lone >= 0 {
		x.gain *= h.N[f.top.lone] * f.top.scale
	} else {
		x.top = multiplied(x.top, h.N[:f.top.degree+1], f.top.scale)
	}
	if f.bottom.lone >= 0 {
		x.gain /= h.D[f.bottom.lone] * f.bottom.scale
	} else {
		x.bottom = multiplied(x.bottom, h.D[:f.bottom.degree+1], f.bottom.scale)
	}
}

// multiplied is a list of products with another polynomial in it, scaled.
func multiplied(list []expanded, p []float64, scale float64) []expanded {
	n := len(list)
	if n == 0 || list[n-1].degree+len(p)-1 > expandedTo {
		list = append(list, expanded{degree: len(p) - 1})
		for k, v := range p {
			list[n].c[k] = v * scale
		}
		return list
	}
	x := &list[n-1]
	var out [terms]float64
	for k, v := range p {
		v *= scale
		for i, c := range x.c[:x.degree+1] {
			out[i+k] += c * v
		}
	}
	x.c, x.degree = out, x.degree+len(p)-1
	return list
}

// put puts the value at s = jw, times a factor or times what is there, for the w of a list.
// What depends on the degree alone stands outside of the loop: a batch spends a good part of
// its time here.
func (x *expanded) put(to *column, omega []float64, factor float64, first bool) {
	c0, c1, c2, c3, c4 := x.c[0], x.c[1], x.c[2], x.c[3], x.c[4]
	c5, c6, c7, c8 := x.c[5], x.c[6], x.c[7], x.c[8]
	re, im := to.re[:len(omega)], to.im[:len(omega)]
	low := x.degree <= 4
	for i, w := range omega {
		ww := w * w
		var a, b float64
		if low {
			a, b = c0-ww*(c2-ww*c4), w*(c1-ww*c3)
		} else {
			a, b = c0-ww*(c2-ww*(c4-ww*(c6-ww*c8))), w*(c1-ww*(c3-ww*(c5-ww*c7)))
		}
		if first {
			re[i], im[i] = factor*a, factor*b
		} else {
			re[i], im[i] = re[i]*a-im[i]*b, re[i]*b+im[i]*a
		}
	}
}

// of puts a product of some of them, times a factor.
func (to *column) of(list []expanded, omega []float64, factor float64) {
	if n := len(omega); len(to.re) < n {
		to.re, to.im = make([]float64, n), make([]float64, n)
	}
	if len(list) == 0 {
		for i := range omega {
			to.re[i], to.im[i] = factor, 0
		}
	}
	for k := range list {
		list[k].put(to, omega, factor, k == 0)
	}
}

// over puts the product at angular frequencies.
func (x *product) over(dst []complex128, omega []float64) {
	omega = omega[:len(dst)]
	x.above.of(x.top, omega, x.gain)
	x.below.of(x.bottom, omega, 1)
	above, below := x.above.re[:len(dst)], x.below.re[:len(dst)]
	aside, beside := x.above.im[:len(dst)], x.below.im[:len(dst)]
	for i := range dst {
		nr, ni, dr, di := above[i], aside[i], below[i], beside[i]
		inv := 1 / (dr*dr + di*di)
		dst[i] = complex((nr*dr+ni*di)*inv, (ni*dr-nr*di)*inv)
	}
}

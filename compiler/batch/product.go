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
	lone  int     // the index of the one coefficient that there is; -1 where there are more
	scale float64 // a power of two that brings it near 1, so that products do not overflow
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
	of := func(p, q []float64) side {
		x := side{lone: -1, scale: 1}
		for k := range p {
			switch {
			case p[k] == 0 && q[k] == 0:
			case x.lone >= 0:
				x.lone = len(p)
			default:
				x.lone = k
			}
		}
		if x.lone == len(p) {
			x.lone = -1
		}
		if size := cmplx.Abs(circuit.Ratio{N: p, D: []float64{1}}.At(omega)); size > 0 && !math.IsInf(size, 0) {
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
	gain        float64
	top, bottom []expanded
}

func (x *product) clear() { x.gain, x.top, x.bottom = 1, x.top[:0], x.bottom[:0] }

// flat tells that the product is its gain at every frequency.
func (x *product) flat() bool { return len(x.top) == 0 && len(x.bottom) == 0 }

// times takes a stage in.
func (x *product) times(f form, h circuit.Ratio) {
	if f.top.lone >= 0 {
		x.gain *= h.N[f.top.lone] * f.top.scale
	} else {
		x.top = multiplied(x.top, h.N, f.top.scale)
	}
	if f.bottom.lone >= 0 {
		x.gain /= h.D[f.bottom.lone] * f.bottom.scale
	} else {
		x.bottom = multiplied(x.bottom, h.D, f.bottom.scale)
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

// at is the value at s = jw, for w and w².
func (x *expanded) at(w, ww float64) (re, im float64) {
	c := &x.c
	return c[0] - ww*(c[2]-ww*(c[4]-ww*(c[6]-ww*c[8]))), w * (c[1] - ww*(c[3]-ww*(c[5]-ww*c[7])))
}

// over puts the product at angular frequencies.
func (x *product) over(dst []complex128, omega []float64) {
	omega = omega[:len(dst)]
	for i := range dst {
		w := omega[i]
		ww := w * w
		nr, ni, dr, di := x.gain, 0.0, 1.0, 0.0
		for k := range x.top {
			re, im := x.top[k].at(w, ww)
			nr, ni = nr*re-ni*im, nr*im+ni*re
		}
		for k := range x.bottom {
			re, im := x.bottom[k].at(w, ww)
			dr, di = dr*re-di*im, dr*im+di*re
		}
		inv := 1 / (dr*dr + di*di)
		dst[i] = complex((nr*dr+ni*di)*inv, (ni*dr-nr*di)*inv)
	}
}

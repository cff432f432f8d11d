package discretize

import (
	"math"

	"bandwright/biquad"
)

// wayModel is one way under fit: a gain with sign and sections, with the
// logarithms of the denominators' coefficients and the numerators'
// coefficients themselves as parameters, so that zeros may pass the unit
// circle and poles may not.
type wayModel struct {
	gainDB   float64 // parameter 0
	negative bool
	ps       []planar
	index    [][2][3]int // parameter of n[k] and d[k], -1 where fixed
	n        int
}

// wayModelOf makes a way of sections; coefficients that are zero stay zero and
// the one that dominates at v is one.
func wayModelOf(ps []planar, y float64) *wayModel {
	w := &wayModel{n: 1}
	gain := 0.0
	for _, p := range ps {
		var ix [2][3]int
		onAxis := p.n[1] == 0 && p.n[0]*p.n[2] > 0
		for side, c := range [2]*[3]float64{&p.n, &p.d} {
			best, size, scale := 0, 0.0, 1.0
			for k, x := range c {
				if m := x * x * scale; m > size {
					best, size = k, m
				}
				scale *= y
			}
			top := c[best]
			sign := float64(1 - 2*side)
			gain += sign * math.Log(math.Abs(top))
			if top < 0 {
				w.negative = !w.negative
			}
			for k := range c {
				c[k] /= top
				ix[side][k] = -1
				// A numerator that fell short of its degree may use it again.
				idle := side == 0 && k > 0 && c[0] != 0 && p.d[k] != 0 && !onAxis
				if k != best && (c[k] != 0 || idle) {
					ix[side][k] = w.n
					w.n++
				}
			}
		}
		w.ps = append(w.ps, p)
		w.index = append(w.index, ix)
	}
	w.gainDB = gain * biquad.DBPerNeper
	return w
}

// planars are the sections, the gain in the first.
func (w *wayModel) planars() []planar {
	ps := append([]planar(nil), w.ps...)
	g := biquad.FromDB(w.gainDB)
	if w.negative {
		g = -g
	}
	for k := range ps[0].n {
		ps[0].n[k] *= g
	}
	return ps
}

// margin is the least pole margin.
func (w *wayModel) margin() float64 {
	m := 1.0
	for _, p := range w.ps {
		m = min(m, margin(p.d))
	}
	return m
}

// level is the response in dB at y, with its derivatives.
func (w *wayModel) level(y float64, row []float64) float64 {
	db, ratio := w.gainDB, 1.0
	for i := range w.ps {
		p := &w.ps[i]
		nr, dr := p.n[0]-p.n[2]*y, p.d[0]-p.d[2]*y
		n := nr*nr + p.n[1]*p.n[1]*y + tiny
		d := dr*dr + p.d[1]*p.d[1]*y + tiny
		ratio *= n / d
		if i&3 == 3 {
			db += biquad.DBPerNeper / 2 * math.Log(ratio)
			ratio = 1
		}
		if row == nil {
			continue
		}
		ix := &w.index[i]
		q := biquad.DBPerNeper / n
		if k := ix[0][0]; k >= 0 {
			row[k] = q * nr
		}
		if k := ix[0][1]; k >= 0 {
			row[k] = q * p.n[1] * y
		}
		if k := ix[0][2]; k >= 0 {
			row[k] = -q * nr * y
		}
		q = -biquad.DBPerNeper / d
		if k := ix[1][0]; k >= 0 {
			row[k] = q * dr * p.d[0]
		}
		if k := ix[1][1]; k >= 0 {
			row[k] = q * p.d[1] * p.d[1] * y
		}
		if k := ix[1][2]; k >= 0 {
			row[k] = -q * dr * y * p.d[2]
		}
	}
	if row != nil {
		row[0] = 1
	}
	return db + biquad.DBPerNeper/2*math.Log(ratio)
}

// at is the response at s = jv; re and im, unless nil, receive the derivatives
// of its logarithm, in nepers and radians.
func (w *wayModel) at(v float64, re, im []float64) complex128 {
	h := complex(biquad.FromDB(w.gainDB), 0)
	if w.negative {
		h = -h
	}
	y := v * v
	put := func(k int, z complex128) {
		if k >= 0 {
			re[k], im[k] = real(z), imag(z)
		}
	}
	for i := range w.ps {
		p := &w.ps[i]
		n := complex(p.n[0]-p.n[2]*y, p.n[1]*v)
		d := complex(p.d[0]-p.d[2]*y, p.d[1]*v)
		by := divisorOf(d)
		h *= by.under(n)
		if re == nil {
			continue
		}
		ix := &w.index[i]
		if n == 0 {
			n = tiny
		}
		un, ud := divisorOf(n).under(1), by.under(-1)
		put(ix[0][0], un)
		put(ix[0][1], un*complex(0, v))
		put(ix[0][2], un*complex(-y, 0))
		put(ix[1][0], ud*complex(p.d[0], 0))
		put(ix[1][1], ud*complex(0, v*p.d[1]))
		put(ix[1][2], ud*complex(-y*p.d[2], 0))
	}
	if re != nil {
		re[0], im[0] = 1/biquad.DBPerNeper, 0
	}
	return h
}

// divisor is what several quotients by a number other than zero have in common. They have
// the bits of the language's own (R. L. Smith, Commun. ACM 5, 1962, algorithm 116), which
// looks for infinities.
type divisor struct {
	ratio, denom float64
	steep        bool // its imaginary part is larger
}

func divisorOf(z complex128) divisor {
	re, im := real(z), imag(z)
	if math.Abs(re) >= math.Abs(im) {
		r := im / re
		return divisor{r, re + r*im, false}
	}
	r := re / im
	return divisor{r, im + r*re, true}
}

// under is the quotient of z by it.
func (d divisor) under(z complex128) complex128 {
	re, im := real(z), imag(z)
	if d.steep {
		return complex((re*d.ratio+im)/d.denom, (im*d.ratio-re)/d.denom)
	}
	return complex((re+im*d.ratio)/d.denom, (im-re*d.ratio)/d.denom)
}

func (w *wayModel) moved(x []float64, scale float64) *wayModel {
	c := *w
	c.ps = append([]planar(nil), w.ps...)
	c.gainDB += scale * x[0]
	for i := range c.ps {
		for k := 0; k < 3; k++ {
			if ix := w.index[i][0][k]; ix >= 0 {
				c.ps[i].n[k] += scale * x[ix]
			}
			if ix := w.index[i][1][k]; ix >= 0 {
				c.ps[i].d[k] *= math.Exp2(scale * x[ix] * math.Log2E)
			}
		}
	}
	return &c
}

package discretize

import (
	"math"

	"bandwright/biquad"
)

// factor is one numerator or denominator of a sectionModel, with coefficients ≥ 0 of
// which some are free; the logarithms of the free ones are parameters, so
// that no step can leave the stable region.
type factor struct {
	c     [3]float64
	index [3]int // parameter, -1 where fixed
	sign  float64
}

// sectionModel is a cascade under fit as sections: a gain, then numerators and
// denominators by turns. It is slow where sections coincide or cancel, but
// can keep limits on every pole.
type sectionModel struct {
	gainDB  float64 // parameter 0
	factors []factor
	n       int
}

// tiny keeps logarithms finite at a zero on the axis.
const tiny = 1e-60

// sectionModelOf makes a sectionModel of sections. Coefficients that are zero stay zero;
// the one that dominates a factor at y is fixed, and the common gain takes
// its place.
func sectionModelOf(ps []planar, y float64) *sectionModel {
	s := &sectionModel{n: 1}
	gain := 0.0
	for _, p := range ps {
		for side, c := range [2][3]float64{p.n, p.d} {
			f := factor{sign: float64(1 - 2*side)}
			best, size, w := 0, 0.0, 1.0
			for k, x := range c {
				f.c[k] = math.Abs(x)
				if m := f.c[k] * f.c[k] * w; m > size {
					best, size = k, m
				}
				w *= y
			}
			top := f.c[best]
			gain += f.sign * math.Log(top)
			for k := range c {
				f.index[k] = -1
				if k != best && f.c[k] != 0 {
					f.index[k] = s.n
					s.n++
				}
				f.c[k] /= top
			}
			s.factors = append(s.factors, f)
		}
	}
	s.gainDB = gain * biquad.DBPerNeper
	return s
}

// planars are the sections, the gain in the first.
func (s *sectionModel) planars() []planar {
	var ps []planar
	g := biquad.FromDB(s.gainDB)
	for i := 0; i < len(s.factors); i += 2 {
		p := planar{s.factors[i].c, s.factors[i+1].c}
		for k := range p.n {
			p.n[k] *= g
		}
		g = 1
		ps = append(ps, p)
	}
	return ps
}

// margin is the least pole margin of the sections.
func (s *sectionModel) margin() float64 {
	m := 1.0
	for i := 1; i < len(s.factors); i += 2 {
		m = min(m, margin(s.factors[i].c))
	}
	return m
}

func (s *sectionModel) size() int { return s.n }

func (s *sectionModel) level(y float64, row []float64) float64 {
	num, den, db := 1.0, 1.0, s.gainDB
	for i := range s.factors {
		f := &s.factors[i]
		re := f.c[0] - f.c[2]*y
		im2 := f.c[1] * f.c[1] * y
		p := float64(re*re) + im2 + tiny
		if f.sign > 0 {
			num *= p
		} else {
			den *= p
		}
		if row != nil {
			q := f.sign * biquad.DBPerNeper / p
			if k := f.index[0]; k >= 0 {
				row[k] = q * f.c[0] * re
			}
			if k := f.index[1]; k >= 0 {
				row[k] = q * im2
			}
			if k := f.index[2]; k >= 0 {
				row[k] = -q * f.c[2] * y * re
			}
		}
		if i&7 == 7 { // before the products overflow
			db += biquad.DBPerNeper / 2 * math.Log(num/den)
			num, den = 1, 1
		}
	}
	if row != nil {
		row[0] = 1
	}
	return db + biquad.DBPerNeper/2*math.Log(num/den)
}

// longestStep limits the change of a logarithm in one step.
const longestStep = 2

func (s *sectionModel) moved(x []float64) model {
	c := *s
	c.factors = append([]factor(nil), s.factors...)
	scale := 1.0
	if l := peak(x[1:]); l > longestStep {
		scale = longestStep / l
	}
	c.gainDB += scale * x[0]
	for i := range c.factors {
		f := &c.factors[i]
		for k, ix := range f.index {
			if ix >= 0 {
				f.c[k] *= math.Exp2(scale * x[ix] * math.Log2E)
			}
		}
	}
	return &c
}

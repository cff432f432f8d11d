package diagnosis

import (
	"math"
	"math/cmplx"
	"slices"

	"bandwright/biquad"
)

// space is in which deviations are measured in standard deviations: the covariance of what
// good boards and the bench do, as its triangular root.
type space struct {
	root  [][]float64 // lower triangle, by row
	lnDet float64
}

// spaceOf is that of a board with a fault, nil for none, on the bench of a measurement.
func (x *Bench) spaceOf(fault *Fault, t *taken) *space {
	cov := x.covariance
	if fault != nil {
		cov = x.covarianceOf(fault)
	}
	s := &space{root: make([][]float64, len(cov))}
	for i, row := range cov {
		s.root[i] = slices.Clone(row)
		at := i % len(x.places)
		h := x.nominalAt(at, x.places[at])
		if fault != nil {
			h = x.response(x.places[at], fault)
		}
		noise := math.Max(usualNoise, t.noise[at]/math.Sqrt(biquad.Power(h)+x.places[at].floor*x.places[at].floor))
		s.root[i][i] += noise*noise + leastNoise*leastNoise
	}
	s.factor()
	return s
}

// covarianceOf is the covariance of what good boards do, but for a fault, and of what benches do, without noise.
func (x *Bench) covarianceOf(fault *Fault) [][]float64 {
	m := len(x.places)
	n := m
	if x.Phased {
		n = 2 * m
	}
	cov := make([][]float64, n)
	for i := range cov {
		cov[i] = make([]float64, i+1)
	}
	column := make([]float64, n)
	add := func(variance float64) {
		for i, a := range column {
			if a == 0 {
				continue
			}
			a *= variance
			row := cov[i]
			for k, b := range column[:i+1] {
				row[k] += a * b
			}
		}
	}
	level, phase := x.told(fault)
	put := func(i int, v complex128) {
		if column[i] = real(v) * level[i]; x.Phased {
			column[m+i] = imag(v) * phase[i]
		}
	}
	for p := range x.Parts {
		most := 0.0
		for i, at := range x.places {
			v := x.sensitivity(at, p, fault)
			put(i, v)
			most = math.Max(most, cmplx.Abs(v))
		}
		if t := x.Parts[p].Tolerance; most*t > 1e-6 {
			add(t * t * x.share)
		}
	}
	if len(x.places) > 0 && x.amps != nil {
		for k := range x.amps[x.places[0].column*len(x.hz)+x.places[0].f] {
			most := 0.0
			for i, at := range x.places {
				v := x.amps[at.column*len(x.hz)+at.f][k]
				put(i, v)
				most = math.Max(most, cmplx.Abs(v))
			}
			if most*opAmpSpread > 1e-6 {
				add(opAmpSpread * opAmpSpread)
			}
		}
	}
	x.benchInto(put, add)
	return cov
}

// told is how much of a change of level, and of phase, is seen at each place of a board with
// a fault: nothing where it is silent.
func (x *Bench) told(fault *Fault) (level, phase []float64) {
	for i, at := range x.places {
		h := x.nominalAt(i, at)
		if fault != nil {
			h = x.response(at, fault)
		}
		p, floor := biquad.Power(h), at.floor*at.floor
		level, phase = append(level, p/(p+floor)), append(phase, math.Min(1, p/(9*floor)))
	}
	return level, phase
}

// benchInto adds what the bench does: level, delay, drift from way to way and along each.
func (x *Bench) benchInto(put func(int, complex128), add func(float64)) {
	level, delay := benchLevel, benchS
	if x.FitLevel {
		level = unknownLevel
	}
	if x.FitDelay {
		delay = unknownS
	}
	each := func(variance float64, of func(at place) complex128) {
		for i, at := range x.places {
			put(i, of(at))
		}
		add(variance)
	}
	each(level*level, func(place) complex128 { return 1 })
	if !x.DelayEach {
		each(delay*delay, func(at place) complex128 { return complex(0, 2*math.Pi*x.hz[at.f]) })
	}
	for c := range x.ways {
		if x.DelayEach {
			each(delay*delay, func(at place) complex128 {
				if at.column != c {
					return 0
				}
				return complex(0, 2*math.Pi*x.hz[at.f])
			})
		}
		mine := func(at place, v float64) complex128 {
			if at.column != c {
				return 0
			}
			return complex(v, 0)
		}
		each(driftNoise*driftNoise, func(at place) complex128 { return mine(at, 1) })
		each(tiltNoise*tiltNoise, func(at place) complex128 { return mine(at, math.Log2(x.hz[at.f]/1000)) })
	}
}

// factor takes the root of the covariance (Cholesky).
func (s *space) factor() {
	for i, row := range s.root {
		for k := 0; k <= i; k++ {
			other := s.root[k][:k]
			sum := row[k]
			for j, v := range other {
				sum -= v * row[j]
			}
			if k < i {
				row[k] = sum / s.root[k][k]
				continue
			}
			row[i] = math.Sqrt(math.Max(sum, 1e-18))
			s.lnDet += 2 * math.Log(row[i])
		}
	}
}

// square is the square of a deviation in standard deviations. It overwrites d.
func (s *space) square(d []float64) float64 {
	total := 0.0
	for i, row := range s.root {
		v := d[i]
		for k, l := range row[:i] {
			v -= l * d[k]
		}
		d[i] = v / row[i]
		total += d[i] * d[i]
	}
	return total
}

// fits reports whether the square of a deviation is one of good units: they have one a row, and somewhat more.
func (s *space) fits(square float64) bool {
	n := float64(len(s.root))
	return square <= n+4*math.Sqrt(2*n)
}

// deviation puts how far a measurement is from a response, place by place: of level in
// nepers, of phase in radians.
func (x *Bench) deviation(dst []float64, t *taken, of func(i int, at place) complex128) []float64 {
	m := len(x.places)
	n := m
	if x.Phased {
		n = 2 * m
	}
	if len(dst) != n {
		dst = make([]float64, n)
	}
	gain := complex(1, 0)
	x.predicted(t, of)
	if x.FitLevel {
		gain = complex(exp(-x.levelOf(t)), 0)
	}
	late := x.lateOf(t)
	for i, at := range x.places {
		h, g := t.now[i], t.h[at.column][at.f]*gain
		if !t.known[at.column][at.f] {
			dst[i] = 0
			if x.Phased {
				dst[m+i] = 0
			}
			continue
		}
		floor := at.floor * at.floor
		hp, gp := biquad.Power(h)+floor, biquad.Power(g)+floor
		dst[i] = math.Log(gp/hp) / 2
		if x.Phased {
			// Near the floor a phase says nothing.
			weight := math.Min(1, math.Min(biquad.Power(h), biquad.Power(g))/(9*floor))
			dst[m+i] = 0
			if weight > 0 {
				q := g / h
				if late != nil {
					q *= cmplx.Conj(biquad.Delay(x.hz[at.f], late[at.column]))
				}
				dst[m+i] = weight * cmplx.Phase(q)
			}
		}
	}
	return dst
}

// predicted puts what a measurement is compared with, place by place.
func (x *Bench) predicted(t *taken, of func(i int, at place) complex128) {
	t.now = t.now[:0]
	for i, at := range x.places {
		t.now = append(t.now, of(i, at))
	}
}

// levelOf is how far (nepers) a measurement's level is above what it is compared with, where
// both are well above the floor.
func (x *Bench) levelOf(t *taken) float64 {
	t.apart = t.apart[:0]
	for i, at := range x.places {
		h, g, enough := biquad.Power(t.now[i]), biquad.Power(t.h[at.column][at.f]), 100*at.floor*at.floor
		if t.known[at.column][at.f] && h > enough && g > enough {
			t.apart = append(t.apart, math.Log(g/h)/2)
		}
	}
	if len(t.apart) == 0 {
		return 0
	}
	return densest(t.apart)
}

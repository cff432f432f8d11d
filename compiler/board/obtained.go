package board

import (
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Parameters are what a section is at its poles: natural frequency (Hz, 0 without
// poles), Q (0 for one pole), and level at its reference, the frequency of those
// at a hundredth, once and a hundred times its own where it is largest.
type Parameters struct{ Hz, Q, Level float64 }

// Wanted are the parameters of what the stage is asked to be, and Obtained those of
// its parts with ideal op-amps: of the poles nearest to the wanted ones.
func (s *Stage) Wanted() Parameters {
	w, q := s.Section.Natural()
	if s.Section.Order() < 2 {
		q = 0
	}
	return Parameters{Hz: w / (2 * math.Pi), Q: q}.level(complex(s.Level, 0) * s.Section.At(s.reference()))
}

// Obtained is described at Wanted.
func (s *Stage) Obtained() Parameters {
	h := s.Topology.Closed(s.Values)
	f := Parameters{}.level(h.At(s.reference()))
	poles := s.Section.Poles()
	if len(poles) == 0 {
		return f
	}
	w, _ := s.Section.Natural()
	// In units of the wanted frequency the coefficients are near one.
	d := make([]float64, h.D.Degree()+1)
	power := 1.0
	for k := range d {
		d[k] = h.D[k] * power
		power *= w
	}
	roots, err := biquad.Roots(d)
	if err != nil {
		return f
	}
	best := math.Inf(1)
	for _, r := range roots {
		if e := cmplx.Abs(r - poles[0]/complex(w, 0)); e < best {
			best = e
			f.Hz, f.Q = cmplx.Abs(r)*w/(2*math.Pi), 0
			if len(poles) == 2 && real(r) != 0 {
				f.Q = cmplx.Abs(r) / (2 * math.Abs(real(r)))
			}
		}
	}
	return f
}

// level fills in the level of a response, negative where it inverts.
func (f Parameters) level(h complex128) Parameters {
	f.Level = math.Copysign(cmplx.Abs(h), real(h))
	return f
}

// reference is the angular frequency that levels are taken at.
func (s *Stage) reference() float64 {
	w, _ := s.Section.Natural()
	if w == 0 {
		return 0
	}
	best, at := 0.0, w
	for _, x := range [...]float64{0.01, 1, 100} {
		if m := cmplx.Abs(s.Section.At(w * x)); m > best*(1+1e-9) {
			best, at = m, w*x
		}
	}
	return at
}

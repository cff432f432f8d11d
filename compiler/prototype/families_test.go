package prototype_test

import (
	"fmt"
	"math"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/prototype"
)

// rippleTolDB is how far the turning points of an equal-ripple response may
// stand from the limit: the poles' errors of 1e-15, times a Q of up to 6000.
const rippleTolDB = 1e-9

// The equal-ripple families are the only functions of their order that touch
// both limits as often as they do (P. L. Chebyshev's alternation theorem), so
// counting the turning points and reading their levels proves poles and zeros
// without another computation of them.
func TestEqualRipple(t *testing.T) {
	for n := 1; n <= prototype.MaxOrder; n++ {
		for _, d := range []prototype.Design{
			{Order: n, RippleDB: 0.01, StopDB: 40}, {Order: n, RippleDB: 0.1, StopDB: 150},
			{Order: n, RippleDB: 1, StopDB: 50}, {Order: n, RippleDB: 3, StopDB: 60},
		} {
			what := fmt.Sprintf("order %d, %v dB, %v dB", n, d.RippleDB, d.StopDB)
			ch := unitSections(t, "chebyshev", d)
			passband(t, "chebyshev "+what, ch, n, d.RippleDB)
			ell := unitSections(t, "elliptic", d)
			passband(t, "elliptic "+what, ell, n, d.RippleDB)
			stopband(t, "elliptic "+what, ell, n, d.StopDB, false)
			inv := unitSections(t, "inverse-chebyshev", d)
			stopband(t, "inverse-chebyshev "+what, inv, n, d.StopDB, true)
		}
	}
}

func level(sections []biquad.Analog, w float64) float64 { return biquad.GainDB(through(sections, w)) }

// passband checks the turning points of [0, 1]: n with both ends, alternately
// 0 dB and -ripple, and -ripple at the edge.
func passband(t *testing.T, what string, s []biquad.Analog, n int, ripple float64) {
	t.Helper()
	near(t, what+" at the edge", level(s, 1), -ripple, rippleTolDB)
	near(t, what+" at 0 Hz", level(s, 0), []float64{-ripple, 0}[n%2], rippleTolDB)
	// Evenly in the angle of cos θ, fine enough for the elliptic crowding at
	// the edge.
	turns := 0
	const steps = 20000
	at := func(i int) float64 { return math.Sin(math.Pi / 2 * float64(i) / steps) }
	high := n%2 == 0 // whether the next turn is a maximum
	for i := 1; i < steps; i++ {
		a, b, c := at(i-1), at(i), at(i+1)
		x, y, z := through(s, a), through(s, b), through(s, c)
		if high && y > x && y >= z || !high && y < x && y <= z {
			turns++
			want := -ripple
			if high {
				want = 0
			}
			near(t, what+" at a turn", biquad.GainDB(extreme(s, a, c, high)), want, rippleTolDB)
			high = !high
		}
	}
	if turns != n-1 {
		t.Errorf("%s: %d turns in the passband, want %d", what, turns, n-1)
	}
}

// stopband checks that the response from the stop edge up touches -stop dB at
// the edge and at each of the n/2 maxima between and above the zeros, and no
// more. ownEdge is true where the edge is 1 rad/s.
func stopband(t *testing.T, what string, s []biquad.Analog, n int, stop float64, ownEdge bool) {
	t.Helper()
	var zeros []float64
	for _, sec := range s {
		if sec.Order() == 2 {
			zeros = append([]float64{imag(sec.Zeros()[0])}, zeros...)
			if real(sec.Zeros()[0]) != 0 {
				t.Errorf("%s: zero off the axis", what)
			}
		}
	}
	if len(zeros) != n/2 {
		t.Fatalf("%s: %d zeros", what, len(zeros))
	}
	if ownEdge {
		near(t, what+" at the edge", level(s, 1), -stop, rippleTolDB)
	}
	for i, z := range zeros {
		// Zeros come from the edge outwards, pairs of high Q last in s.
		if i > 0 && z <= zeros[i-1] {
			t.Fatalf("%s: zeros do not ascend: %v", what, zeros)
		}
		if i+1 < len(zeros) {
			near(t, what+" between zeros", biquad.GainDB(extreme(s, z, zeros[i+1], true)), -stop, rippleTolDB)
			continue
		}
		if n%2 == 0 {
			far := 1.0
			for _, sec := range s {
				far *= sec.B[2] / sec.A[2]
			}
			near(t, what+" at infinity", biquad.GainDB(far), -stop, rippleTolDB)
		} else {
			near(t, what+" above the last zero", biquad.GainDB(extreme(s, z, 1e3*z, true)), -stop, rippleTolDB)
		}
	}
}

// extreme is the greatest or least gain between two frequencies, in between
// which there is one turning point: golden section on the logarithm.
func extreme(s []biquad.Analog, lo, hi float64, greatest bool) float64 {
	g := func(lg float64) float64 {
		h := through(s, math.Exp2(lg))
		if greatest {
			return h
		}
		return -h
	}
	a, b := math.Log2(lo), math.Log2(hi)
	const ratio = 0.6180339887498949
	for range 120 {
		c, d := b-ratio*(b-a), a+ratio*(b-a)
		if g(c) > g(d) {
			b = d
		} else {
			a = c
		}
	}
	return math.Abs(g((a + b) / 2))
}

// What the documentation says of the level at `at` is checked for every family
// by the conformance suite; here, what it says of the rest.
func TestBesselNorms(t *testing.T) {
	for n := 1; n <= prototype.MaxOrder; n++ {
		// delay: the group delay at 0 Hz, Σ 1/(Q·w) over the sections, is 1 s.
		sum := 0.0
		for _, s := range unitSections(t, "bessel", prototype.Design{Order: n, ScaledBy: "delay"}) {
			sum += s.A[1] / s.W0
		}
		near(t, fmt.Sprintf("order %d delay", n), sum, 1, poleTol)
		// phase: poles whose product is 1, as Butterworth's.
		product := 1.0
		for _, s := range unitSections(t, "bessel", prototype.Design{Order: n, ScaledBy: "phase"}) {
			for range s.Order() {
				product *= s.W0
			}
		}
		near(t, fmt.Sprintf("order %d phase", n), product, 1, poleTol)
	}
}

// The definition 1/(1+c·p)^n, c = √(2^(1/n)-1): n equal poles at -1/c.
func TestCriticallyDamped(t *testing.T) {
	for n := 1; n <= prototype.MaxOrder; n++ {
		poles := 0
		for _, s := range unitSections(t, "critically-damped", prototype.Design{Order: n}) {
			poles += s.Order()
			near(t, "pole", s.W0*s.W0, 1/(math.Exp2(1/float64(n))-1), 1e-12*s.W0*s.W0)
			if s.Order() == 2 && s.A != [3]float64{1, 2, 1} {
				t.Errorf("order %d: denominator %v", n, s.A)
			}
		}
		if poles != n {
			t.Errorf("order %d has %d poles", n, poles)
		}
	}
}

// Coefficients that are 0 or 1 in theory are so exactly, the high-pass holds
// the low-pass's numbers in reverse, and all-pole low-passes have a gain of
// exactly 1 at 0 Hz.
func TestExactCoefficients(t *testing.T) {
	for _, f := range prototype.Families {
		for n := 1; n <= prototype.MaxOrder; n++ {
			if f.EvenOnly && n%2 != 0 {
				continue
			}
			g := map[string]any{"at": 700.0, "family": f.Name, "order": n}
			if f.UsesRipple {
				g["ripple"] = 0.5
			}
			if f.UsesStop {
				g["stop"] = 60.0
			}
			low, high := build(t, "low-pass", g), build(t, "high-pass", g)
			for i, s := range low.Sections {
				h := high.Sections[i]
				k := s.Order()
				for j := range k + 1 {
					if h.B[j] != s.B[k-j] || h.A[j] != s.A[k-j] {
						t.Errorf("%s %d: high-pass %v/%v for low-pass %v/%v", f.Name, n, h.B, h.A, s.B, s.A)
					}
				}
				near(t, "geometric mean of the corners", s.W0*h.W0/(s.Keep*s.Keep), 1, 1e-15*4)
				if s.B[1] != 0 || !f.UsesStop && s.B[2] != 0 {
					t.Errorf("%s %d: numerator %v", f.Name, n, s.B)
				}
				if equalRipplePass := f.UsesRipple && n%2 == 0 && i == 0; !equalRipplePass && s.B[0] != 1 {
					t.Errorf("%s %d: section %d has gain %v at 0 Hz", f.Name, n, i, s.B[0])
				}
			}
		}
	}
}

// Every zero pair shares a section with the pole pair next to it in frequency,
// so that no section rises far above its passband.
func TestZerosWithTheirPoles(t *testing.T) {
	for _, name := range []string{"inverse-chebyshev", "elliptic"} {
		for n := 2; n <= prototype.MaxOrder; n++ {
			s := unitSections(t, name, prototype.Design{Order: n, RippleDB: 0.5, StopDB: 60})
			last := math.Inf(1)
			for _, sec := range s {
				if sec.Order() != 2 {
					continue
				}
				z := imag(sec.Zeros()[0])
				if z >= last {
					t.Errorf("%s order %d: the pair of higher Q has the higher zero", name, n)
				}
				last = z
			}
		}
	}
}

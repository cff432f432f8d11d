package circuit

import (
	"errors"
	"math"
	"math/cmplx"

	"bandwright/biquad"
)

// Shape says what kind of section is asked for, read from its coefficients.
type Shape uint8

// The shapes. "Of the first order" and "of the second order" is the degree of
// the denominator.
const (
	Constant Shape = iota
	LowPass1
	HighPass1
	LowShelf1  // N0 > N1: falls from low to high frequencies
	HighShelf1 // N0 < N1: rises
	AllPass1
	RightHalf1 // a zero in the right half plane that mirrors no pole
	LowPass2
	HighPass2
	BandPass2
	Notch2     // no transmission at the poles' own frequency
	LowNotch2  // zeros on the axis above the poles
	HighNotch2 // zeros on the axis below the poles
	AllPass2
	Cut2       // same level at both ends, less at the poles' frequency
	Boost2     // same level at both ends, more at the poles' frequency
	Shift2     // a zero pair in the left half plane elsewhere: shelves, pole shifts
	Biquad2    // numerators of first degree, or without constant
	RightHalf2 // zeros in the right half plane that mirror no poles
)

var shapeNames = [...]string{
	"gain", "first-order low-pass", "first-order high-pass", "first-order falling shelf", "first-order rising shelf",
	"first-order all-pass", "first-order section with a right-half zero",
	"second-order low-pass", "second-order high-pass", "band-pass", "notch", "low-pass notch", "high-pass notch",
	"second-order all-pass", "cut", "boost", "second-order shelf or pole shift", "second-order section with one zero",
	"second-order section with right-half zeros",
}

// String is the shape in words.
func (s Shape) String() string {
	if int(s) < len(shapeNames) {
		return shapeNames[s]
	}
	return "unknown section"
}

// Shapes is the number of shapes.
const Shapes = Shape(len(shapeNames))

// Asked is a section as a designer of stages reads it:
//
//	Sign · (N[0] + N[1]·p + N[2]·p²) / (1 + p/Q + p²),  p = s/W,
//
// or with the denominator 1 + p (Order 1), or 1 (Order 0).
type Asked struct {
	Shape Shape
	Order int
	W     float64 // rad/s; 1 for order 0
	Q     float64 // of order 2
	N     [3]float64
	Sign  float64 // 1 or -1: makes the first coefficient of N that is not 0 positive
}

// same is the relative difference up to which coefficients count as equal:
// what rounding makes of a family's closed forms, with room.
const same = 1e-9

// Ask reads a section. It fails for sections that no stage can be: unstable
// ones, with more zeros than poles, zero, or not finite.
func Ask(s biquad.Analog) (Asked, error) {
	for k := range 3 {
		if bad(s.A[k]) || bad(s.B[k]) || bad(s.W0) || !(s.W0 > 0) {
			return Asked{}, errors.New("a coefficient of the section is not finite")
		}
	}
	a := Asked{Sign: 1, W: 1}
	switch {
	case s.A[2] != 0:
		a.Order = 2
		if !(s.A[0]/s.A[2] > 0) || !(s.A[1]/s.A[2] > 0) {
			return Asked{}, errors.New("its poles are not in the left half plane, so no stage can be stable")
		}
		r := math.Sqrt(s.A[0] / s.A[2])
		a.W = s.W0 * r
		a.Q = s.A[0] / (s.A[1] * r)
		a.N = [3]float64{s.B[0] / s.A[0], s.B[1] / s.A[0] * r, s.B[2] / s.A[0] * r * r}
	case s.A[1] != 0:
		a.Order = 1
		r := s.A[0] / s.A[1]
		if !(r > 0) {
			return Asked{}, errors.New("its pole is not in the left half plane, so no stage can be stable")
		}
		a.W = s.W0 * r
		a.N = [3]float64{s.B[0] / s.A[0], s.B[1] / s.A[0] * r, s.B[2]}
	default:
		if s.A[0] == 0 {
			return Asked{}, errors.New("the section has no denominator")
		}
		a.N = [3]float64{s.B[0] / s.A[0], s.B[1], s.B[2]}
	}
	largest := 0.0
	for k, v := range a.N {
		if k > a.Order && v != 0 {
			return Asked{}, errors.New("it has more zeros than poles: no stage has unlimited gain")
		}
		largest = math.Max(largest, math.Abs(v))
	}
	if bad(a.W) || bad(a.Q) || bad(largest) || largest == 0 {
		return Asked{}, errors.New("the section is zero, or not finite")
	}
	for k, v := range a.N {
		if math.Abs(v) < 1e-13*largest {
			a.N[k] = 0
		}
	}
	for _, v := range a.N {
		if v != 0 {
			a.Sign = math.Copysign(1, v)
			break
		}
	}
	for k := range a.N {
		if a.N[k] != 0 {
			a.N[k] *= a.Sign
		}
	}
	a.Shape = a.shape()
	return a, nil
}

func bad(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) }

func near(x, y float64) bool { return math.Abs(x-y) <= same*math.Max(math.Abs(x), math.Abs(y)) }

func (a Asked) shape() Shape {
	n0, n1, n2 := a.N[0], a.N[1], a.N[2]
	switch a.Order {
	case 0:
		return Constant
	case 1:
		switch {
		case n1 == 0:
			return LowPass1
		case n0 == 0:
			return HighPass1
		case n1 < 0 && near(n0, -n1):
			return AllPass1
		case n1 < 0:
			return RightHalf1
		case n0 > n1:
			return LowShelf1
		}
		return HighShelf1
	}
	switch {
	case n1 == 0 && n2 == 0:
		return LowPass2
	case n0 == 0 && n1 == 0:
		return HighPass2
	case n0 == 0 && n2 == 0:
		return BandPass2
	case n1 < 0 && near(n0, n2) && near(n1, -n0/a.Q):
		return AllPass2
	case n1 < 0 || n2 < 0:
		return RightHalf2
	case n1 == 0 && near(n0, n2):
		return Notch2
	case n1 == 0 && n0 > n2:
		return LowNotch2
	case n1 == 0:
		return HighNotch2
	case n0 == 0 || n2 == 0:
		return Biquad2
	case near(n0, n2) && n1 < n0/a.Q:
		return Cut2
	case near(n0, n2):
		return Boost2
	}
	return Shift2
}

// Section is the section that was asked for.
func (a Asked) Section() biquad.Analog {
	s := biquad.Analog{W0: a.W, Keep: a.W, A: [3]float64{1}}
	switch a.Order {
	case 1:
		s.A[1] = 1
	case 2:
		s.A[1], s.A[2] = 1/a.Q, 1
	}
	for k, v := range a.N {
		if v != 0 {
			s.B[k] = a.Sign * v
		}
	}
	return s
}

// Split takes a section with zeros in the right half plane apart into all-pass
// sections, which have those zeros, and a section whose zeros are mirrored to
// the left. Other sections, and all-passes, come back as they are.
func Split(s biquad.Analog) ([]biquad.Analog, error) {
	a, err := Ask(s)
	if err != nil {
		return nil, err
	}
	switch a.Shape {
	case RightHalf1:
		// (n0 - |n1|·p) = (n0 + |n1|·p)·(1 - p/z)/(1 + p/z), z = n0/|n1|.
		rest := a
		rest.N[1] = -a.N[1]
		return []biquad.Analog{allPass1(a.W * a.N[0] / rest.N[1]), rest.Section()}, nil
	case RightHalf2:
		rest := a
		if a.N[0] > 0 && a.N[2] > 0 {
			rest.N[1] = -a.N[1]
			w := math.Sqrt(a.N[0] / a.N[2])
			r := rest.N[1] / math.Sqrt(a.N[0]*a.N[2])
			return []biquad.Analog{{W0: a.W * w, Keep: a.W * w, B: [3]float64{1, -r, 1}, A: [3]float64{1, r, 1}}, rest.Section()}, nil
		}
		// One zero on either side, or one at the origin.
		zeros := biquad.Analog{W0: 1, B: a.N, A: [3]float64{1}}.Zeros()
		right := 0.0
		for _, z := range zeros {
			if math.Abs(imag(z)) <= same*cmplx.Abs(z) && real(z) > 0 {
				right = real(z)
			}
		}
		if right == 0 {
			return nil, errors.New("its zeros cannot be told apart")
		}
		// N = (1 - p/z)·(m0 + m1·p), and (1 + p/z) in its place.
		m0 := a.N[0]
		m1 := -a.N[2] * right
		if a.N[0] == 0 {
			m1 = a.N[1]
		}
		rest.N = [3]float64{m0, m1 + m0/right, m1 / right}
		return []biquad.Analog{allPass1(a.W * right), rest.Section()}, nil
	}
	return []biquad.Analog{s}, nil
}

// allPass1 is (1-p)/(1+p), p = s/w.
func allPass1(w float64) biquad.Analog {
	return biquad.Analog{W0: w, Keep: w, B: [3]float64{1, -1}, A: [3]float64{1, 1}}
}

package prototypetest

import (
	"math"
	"math/cmplx"
	"math/rand"
	"strings"
	"testing"

	"bandwright/biquad"
	"bandwright/compiler/language"
	"bandwright/compiler/prototype"
)

// levelTol is the relative error allowed to a gain that a closed form states,
// times the greatest Q where that is above 1, since a pole pair answers an
// error of its frequency with Q times it: the sections' coefficients are within
// a few units of the last place, and the steepest slope met (144 dB per octave)
// multiplies that by 24.
const levelTol = 1e-12

// trials is the number of random arguments for each kind: the whole suite
// takes half a second.
const trials = 200

// Level is what a kind's documentation says of its gain at one frequency.
type Level struct {
	Hz   float64 // 0 and +Inf are the ends
	Gain float64 // linear magnitude
}

// Case is what the suite knows of a kind beyond its table row.
type Case struct {
	// Random draws arguments that must be accepted.
	Random func(r *rand.Rand) Given
	// Levels are the documented gains for some arguments.
	Levels func(g Given) []Level
	// Undo is the filter that takes the effect back, nil where there is none.
	Undo func(g Given) Given
	// KeepHz is where the whole filter keeps its response under warping; nil
	// where each section keeps its own.
	KeepHz func(g Given) float64
	// Order is the number of poles.
	Order func(g Given) int
}

// Check is the conformance suite for one kind.
func Check(t *testing.T, k prototype.Kind) {
	t.Helper()
	row(t, k)
	c, ok := cases[k.Name]
	if !ok {
		t.Fatalf("prototypetest has no case for the kind `%s`", k.Name)
	}
	r := rand.New(rand.NewSource(1))
	for range trials {
		g := c.Random(r)
		ideal, problems := k.Ideal(Args(k.Keys, g))
		if len(problems) > 0 {
			t.Fatalf("%v is refused: %s (right: %s)", g, problems[0].Message, problems[0].Right)
		}
		if !Sound(t, ideal) {
			t.Fatalf("with %v", g)
		}
		order := 0
		for i, s := range ideal.Sections {
			order += s.Order()
			if s.Order() == 1 && i > 0 || i > 0 && prototypeBefore(s, ideal.Sections[i-1]) {
				t.Errorf("%v: sections do not come in ascending Q", g)
			}
			keep := s.W0
			if c.KeepHz != nil && s.Order() > 0 {
				keep = 2 * math.Pi * c.KeepHz(g)
			}
			if math.Abs(s.Keep-keep) > levelTol*keep {
				t.Errorf("%v: section %d keeps %v rad/s, want %v", g, i, s.Keep, keep)
			}
		}
		if want := c.Order(g); order != want {
			t.Errorf("%v: order %d, want %d", g, order, want)
		}
		for _, l := range c.Levels(g) {
			size := l.Gain
			if size == 0 { // a notch: measured against what lies beside it
				size = 1
			}
			if got := magnitude(ideal, l.Hz); !(math.Abs(got-l.Gain) <= levelTol*greatestQ(ideal)*size) {
				t.Errorf("%v: gain %v at %v Hz, want %v", g, got, l.Hz, l.Gain)
			}
		}
		if c.Undo != nil {
			undone(t, k, g, ideal, c.Undo(g))
		}
	}
}

// prototypeBefore says whether a's Q is below b's by more than rounding.
func prototypeBefore(a, b biquad.Analog) bool {
	_, x := a.Natural()
	_, y := b.Natural()
	return x < y*(1-levelTol)
}

// greatestQ is the Q that errors are multiplied by, at least 1.
func greatestQ(ideal prototype.Ideal) float64 {
	greatest := 1.0
	for _, s := range ideal.Sections {
		_, q := s.Natural()
		greatest = math.Max(greatest, q)
	}
	return greatest
}

// Sound says whether an ideal filter keeps the package's invariant: finite,
// proper and stable sections with positive scales, a positive gain, no
// negative delay, and a finite response at every frequency.
func Sound(t *testing.T, ideal prototype.Ideal) bool {
	t.Helper()
	ok := true
	fail := func(format string, args ...any) {
		t.Helper()
		t.Errorf(format, args...)
		ok = false
	}
	if !(ideal.Gain > 0) || math.IsInf(ideal.Gain, 0) {
		fail("gain %v", ideal.Gain)
	}
	if !(ideal.DelayS >= 0) || math.IsInf(ideal.DelayS, 0) {
		fail("delay %v", ideal.DelayS)
	}
	for i, s := range ideal.Sections {
		if !(s.W0 > 0) || math.IsInf(s.W0, 0) || !(s.Keep > 0) || math.IsInf(s.Keep, 0) {
			fail("section %d: W0 %v, Keep %v", i, s.W0, s.Keep)
		}
		for k := range 3 {
			for _, v := range []float64{s.B[k], s.A[k]} {
				if math.IsNaN(v) || math.IsInf(v, 0) || v == 0 && math.Signbit(v) {
					fail("section %d: coefficient %v", i, v)
				}
			}
		}
		// Proper and in the form that the package promises.
		switch s.Order() {
		case 0:
			if s.A != [3]float64{1} {
				fail("section %d: constant over %v", i, s.A)
			}
		case 1:
			if s.A != [3]float64{1, 1, 0} {
				fail("section %d: first-order denominator %v", i, s.A)
			}
		case 2:
			if s.A[0] != 1 || s.A[2] != 1 || !(s.A[1] > 0) {
				fail("section %d: second-order denominator %v", i, s.A)
			}
		}
		if !s.Stable() {
			fail("section %d is unstable: %v", i, s.Poles())
		}
		for lg := -4.0; lg <= 7; lg += 0.5 {
			if h := s.At(2 * math.Pi * math.Exp2(lg*math.Log2(10))); cmplx.IsNaN(h) || cmplx.IsInf(h) {
				fail("section %d: response %v at 1e%v Hz", i, h, lg)
			}
		}
	}
	return ok
}

// Response is an ideal filter's response at hz; +Inf is the limit. A delay is
// left out there.
func Response(ideal prototype.Ideal, hz float64) complex128 {
	h := complex(ideal.Gain, 0)
	for _, s := range ideal.Sections {
		if math.IsInf(hz, 1) {
			n := s.Order()
			h *= complex(s.B[n]/s.A[n], 0)
		} else {
			h *= s.At(2 * math.Pi * hz)
		}
	}
	if math.IsInf(hz, 1) {
		return h
	}
	return h * biquad.Delay(hz, ideal.DelayS)
}

func magnitude(ideal prototype.Ideal, hz float64) float64 { return cmplx.Abs(Response(ideal, hz)) }

// undone checks that a filter and its opposite leave nothing behind.
func undone(t *testing.T, k prototype.Kind, g Given, ideal prototype.Ideal, opposite Given) {
	t.Helper()
	other, problems := k.Ideal(Args(k.Keys, opposite))
	if len(problems) > 0 {
		t.Fatalf("%v is refused: %s", opposite, problems[0].Message)
	}
	for lg := -1.0; lg <= 5; lg += 0.23 {
		hz := math.Exp2(lg * math.Log2(10))
		h := Response(ideal, hz) * Response(other, hz)
		if tol := levelTol * math.Max(greatestQ(ideal), greatestQ(other)); !(cmplx.Abs(h-1) <= tol) {
			t.Errorf("%v and %v leave %v at %v Hz", g, opposite, h, hz)
		}
	}
}

// row checks a kind's part of the grammar: names, documentation, an example
// and a default that lie in the ranges.
func row(t *testing.T, k prototype.Kind) {
	t.Helper()
	if k.Name == "" || !strings.HasSuffix(k.Doc, ".") {
		t.Errorf("kind `%s` needs a name and a sentence: %q", k.Name, k.Doc)
	}
	keys(t, k.Name, k.Keys)
}

func keys(t *testing.T, path string, table []language.Key) {
	t.Helper()
	seen := map[string]bool{}
	for _, k := range table {
		where := path + "." + k.Name
		if seen[k.Name] {
			t.Errorf("%s occurs twice", where)
		}
		seen[k.Name] = true
		if !strings.HasSuffix(k.Doc, ".") || k.Example == "" {
			t.Errorf("%s needs a sentence and an example: %q, %q", where, k.Doc, k.Example)
		}
		if k.Required && k.Default != "" {
			t.Errorf("%s is required and has a default", where)
		}
		if k.Default != "" {
			if v := fallback(k); v.Word == "" && k.Type.Max != 0 && !(v.Number >= k.Type.Min && v.Number <= k.Type.Max) {
				t.Errorf("%s: the default %s is out of range", where, k.Default)
			}
		}
		types := append([]language.Type{k.Type}, k.Type.Either...)
		if k.Type.List != nil {
			types = append(types, *k.Type.List)
			types = append(types, k.Type.List.Either...)
		}
		for _, ty := range types {
			if (len(ty.Dims) > 0 || ty.Number) && !(ty.Min < ty.Max) {
				t.Errorf("%s has no range", where)
			}
			if ty.Keys != nil {
				keys(t, where, ty.Keys)
			}
		}
	}
}

package discretize

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"bandwright/biquad"
)

func lowpass(hz, q float64) biquad.Analog {
	w := 2 * math.Pi * hz
	return biquad.Analog{W0: w, Keep: w, B: [3]float64{1}, A: [3]float64{1, 1 / q, 1}}
}

func highpass(hz, q float64) biquad.Analog {
	a := lowpass(hz, q)
	a.B = [3]float64{0, 0, 1}
	return a
}

func withNumerator(a biquad.Analog, b ...float64) biquad.Analog {
	a.B = [3]float64{}
	copy(a.B[:], b)
	return a
}

func many(n int, a biquad.Analog) []biquad.Analog {
	out := make([]biquad.Analog, n)
	for i := range out {
		out[i] = a
	}
	return out
}

// adverse are cascades that a user may write and that are hard: worst is the
// error in dB that the fit may have at 44.1 kHz with no extra biquad.
func adverse(rate float64) []struct {
	name  string
	as    []biquad.Analog
	worst float64
} {
	near := withNumerator(lowpass(1000, 0.7), 1.0001, 1.4286, 1)
	return []struct {
		name  string
		as    []biquad.Analog
		worst float64
	}{
		{"low-pass at 0.49 of the rate", []biquad.Analog{lowpass(0.49*rate, 0.7)}, 0.03},
		{"high-pass at 0.49 of the rate", []biquad.Analog{highpass(0.49*rate, 0.7)}, 0.15},
		{"low-pass Q 50", []biquad.Analog{lowpass(9000, 50)}, 0.2},
		{"high-pass Q 50", []biquad.Analog{highpass(19000, 50)}, 3},
		{"bell Q 50", []biquad.Analog{bell(19000, 50, 12)}, 0.02},
		{"order 12 high 20 Hz", butterworth(12, 20, true), 1e-9},
		{"order 12 low 20 Hz", butterworth(12, 20, false), 0.003},
		{"ten coincident poles, low", many(5, lowpass(1000, 0.5)), 1e-4},
		{"ten coincident poles, high", many(5, highpass(8000, 0.5)), 0.4},
		{"twenty sections", append(many(10, bell(700, 2, 3)), many(10, bell(5000, 3, -4))...), 0.1},
		{"near-cancelling", []biquad.Analog{near, near, lowpass(5000, 0.7)}, 0.001},
		{"low-pass above half the rate", []biquad.Analog{lowpass(1.7*rate, 0.7)}, 0.001},
		{"high-pass above half the rate", []biquad.Analog{highpass(0.9*rate, 0.7)}, 0.2},
		{"resonance above half the rate", []biquad.Analog{bell(0.8*rate, 10, 18)}, 0.001},
		{"two zeros on the right", []biquad.Analog{withNumerator(lowpass(3000, 0.8), 1, -0.7, 1)}, 0.03},
		{"one zero on the right", []biquad.Analog{withNumerator(lowpass(3000, 0.8), 1, -0.5, -2), lowpass(9000, 1)}, 0.15},
		{"all-pass and low-pass", []biquad.Analog{withNumerator(lowpass(4000, 1.2), 1, -1/1.2, 1), lowpass(9000, 1)}, 0.15},
		{"inverted", []biquad.Analog{withNumerator(lowpass(4000, 1.2), -2), highpass(50, 1)}, 0.15},
		{"more zeros than poles", []biquad.Analog{{W0: 50000, Keep: 50000, B: [3]float64{1, 1}, A: [3]float64{1}}}, 1},
		{"constant", []biquad.Analog{biquad.Constant(-2)}, 1e-9},
		{"zero", []biquad.Analog{biquad.Constant(0), lowpass(9000, 1)}, 1e-9},
		{"no sections", nil, 1e-9},
		{"subsonic", []biquad.Analog{highpass(0.5, 0.7), highpass(0.2, 5)}, 1e-6},
	}
}

func TestAdverseCascades(t *testing.T) {
	const longest = 5 * time.Second
	for _, rate := range []float64{44100, 192000} {
		for _, c := range adverse(rate) {
			t.Run(fmt.Sprint(c.name, " ", rate), func(t *testing.T) {
				t.Parallel()
				begin := time.Now()
				f := Magnitude(c.as, rate, Audible(rate), 0)
				took := time.Since(begin)
				t.Logf("%.3g dB in %v", f.Audit.WorstDB, took)
				if took > longest {
					t.Errorf("took %v", took)
				}
				for _, d := range f.Sections {
					checkSection(t, d)
				}
				if !f.Fitted || f.Audit.WorstDB > c.worst {
					t.Errorf("fitted %v, %+v, want %g dB", f.Fitted, f.Audit, c.worst)
				}
				// A sum with something ordinary: whatever the goals, safe.
				s := FitSystem(context.Background(), []Way{{Sections: c.as, Gain: 1}, {Sections: lr(4, 3000, true), Gain: 1}}, rate, Audible(rate), demands["default"])
				for _, w := range s.Ways {
					for _, d := range w.Sections {
						checkSection(t, d)
					}
					if !w.Audit.Keeps(Guarded) {
						t.Errorf("joint: %+v", w.Audit)
					}
				}
			})
		}
	}
}

func checkSection(t *testing.T, d biquad.Digital) {
	t.Helper()
	for k := range d.B {
		if x := d.B[k] + d.A[k]; math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("not finite: %+v", d)
		}
	}
	if !(d.PoleMargin() > 0) {
		t.Fatalf("unstable: %+v", d)
	}
}

// A cut undoes a boost: the two are each other's reciprocal, and so are their
// fits.
func TestCutUndoesBoost(t *testing.T) {
	const tolerance = 1e-3 // dB: both stop within so much of the same optimum
	for _, hz := range []float64{40, 900, 9000, 16000} {
		both := Magnitude([]biquad.Analog{bell(hz, 1.3, 9)}, 48000, Audible(48000), 0).Sections
		both = append(both, Magnitude([]biquad.Analog{bell(hz, 1.3, -9)}, 48000, Audible(48000), 0).Sections...)
		for f := 20.0; f < 20000; f *= 1.1 {
			if e := digitalDB(both, f, 48000); math.Abs(e) > tolerance {
				t.Fatalf("%g Hz: boost and cut leave %.3g dB at %.0f Hz", hz, e, f)
			}
		}
	}
}

// Zeros at DC, on the axis and on the right stay what they are.
func TestZerosStay(t *testing.T) {
	const rate = 48000
	count := func(ds []biquad.Digital, is func(z complex128) bool) int {
		n := 0
		for _, d := range ds {
			for _, z := range d.Zeros() {
				if is(z) {
					n++
				}
			}
		}
		return n
	}
	right := withNumerator(lowpass(3000, 0.8), 1, -0.7, 1)
	for _, method := range []func([]biquad.Analog) []biquad.Digital{
		func(as []biquad.Analog) []biquad.Digital { return fitted(0)(as, rate) },
		func(as []biquad.Analog) []biquad.Digital { return each(matched)(as, rate) },
	} {
		if n := count(method(butterworth(5, 100, true)), func(z complex128) bool { return z == 1 }); n != 5 {
			t.Errorf("%d zeros at DC, want 5", n)
		}
		if n := count(method([]biquad.Analog{right}), func(z complex128) bool { return real(z)*real(z)+imag(z)*imag(z) > 1 }); n != 2 {
			t.Errorf("%d zeros outside, want 2", n)
		}
		notch := withNumerator(lowpass(1000, 5), 1, 0, 1)
		ds := method([]biquad.Analog{notch})
		if db := digitalDB(ds, 1000, rate); db > -200 {
			t.Errorf("notch only %.0f dB deep", db)
		}
	}
	all := withNumerator(lowpass(7000, 2), 1, -0.5, 1)
	d := Matched(all, rate, 20e3)
	for f := 20.0; f < 23000; f *= 1.3 {
		if e := digitalDB([]biquad.Digital{d}, f, rate); math.Abs(e) > 1e-9 {
			t.Errorf("all-pass has %.3g dB at %.0f Hz", e, f)
		}
	}
}

// The same input gives the same bits.
func TestFitsRepeat(t *testing.T) {
	a, b := fitted(1)(lr(8, 3000, false), 48000), fitted(1)(lr(8, 3000, false), 48000)
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("section %d: %+v and %+v", i, a[i], b[i])
		}
	}
}

// Roots from ten decades, simple and double, against the polynomial that they
// make.
func TestPolynomialRoots(t *testing.T) {
	want := []float64{1e-8, 3e-5, 0.2, 0.2, 7, 4000}
	c := []float64{1}
	for _, r := range want {
		c = biquad.Times(c, []float64{r, 1})
	}
	got, ok := polynomialRoots(c)
	if !ok || len(got) != len(want) {
		t.Fatal(got, ok)
	}
	// A double root is good to the square root of rounding.
	const tolerance = 1e-6
	for _, r := range want {
		found := false
		for _, z := range got {
			found = found || math.Hypot(real(z)+r, imag(z)) < tolerance*r
		}
		if !found {
			t.Errorf("-%g is not among %v", r, got)
		}
	}
}

// A damped step without damping is the least-squares solution, whether or not
// rows are compressed first.
func TestLeastSquaresStep(t *testing.T) {
	rows := [][]float64{{1, 2, 0}, {0, 1, 0}, {3, 1, 0}, {0, 1, 1}, {2, 2, 2}, {1, 0, 5}, {4, 0, 0}, {2, 0, 1}, {3, 0, -1}}
	want := []float64{0.5, -2, 3}
	for _, compress := range []bool{false, true} {
		s := newLeastSquares(3, len(rows))
		for i, r := range rows {
			y := 0.0
			for k, x := range r {
				y += x * want[k]
			}
			add := s.add
			if compress && (i <= 2 || i >= len(rows)-4) {
				add = s.part.add
			}
			if i == 0 { // nothing in the last column
				s.part.begin(columns{0, 2, false})
			} else if i == len(rows)-4 { // nothing between the first and the last
				s.part.begin(columns{0, 1, true})
			}
			add(r, 1+float64(i), y*(1+float64(i)))
			if compress && (i == 2 || i == len(rows)-1) {
				s.addPart(&s.part)
			}
		}
		if compress && s.m != 6 {
			t.Errorf("%d rows after compression, want 6", s.m)
		}
		s.factor()
		if !s.solve(0) {
			t.Fatal("no step")
		}
		for k, x := range s.x {
			if math.Abs(x-want[k]) > 1e-12 {
				t.Errorf("compressed %v: %v, want %v", compress, s.x, want)
			}
		}
		// Another right side AᵀA·x, from the rows themselves.
		y := make([]float64, 3)
		for i, r := range rows {
			dot := 0.0
			for k, x := range r {
				dot += x * want[k]
			}
			for k, x := range r {
				y[k] += (1 + float64(i)) * (1 + float64(i)) * dot * x
			}
		}
		s.again(y)
		for k, x := range y {
			if math.Abs(x-want[k]) > 1e-10 {
				t.Errorf("compressed %v, again: %v, want %v", compress, y, want)
			}
		}
	}
}

// valley is H. H. Rosenbrock's curved valley (Comput. J. 3, 1960): errors
// 10·(y-x²) and 1-x, from (-1.2, 1) to (1, 1).
type valley struct{ x, y float64 }

func (v valley) size() int                  { return 2 }
func (v valley) moved(step []float64) model { return valley{v.x + step[0], v.y + step[1]} }
func (valley) count() int                   { return 2 }

func (valley) errors(m model, e, rows []float64) {
	v := m.(valley)
	e[0], e[1] = 10*(v.y-v.x*v.x), 1-v.x
	if rows != nil {
		copy(rows, []float64{-20 * v.x, 10, -1, 0})
	}
}

func (valley) within(_, n int) columns { return columns{0, n, false} }

func (valley) load(s *leastSquares, _, rows, weight, right []float64) {
	for i, w := range weight {
		if w != 0 {
			s.add(rows[2*i:2*i+2], w, right[i])
		}
	}
}

// Steps that bend follow a curved valley in fewer.
func TestBentStepsFollowAValley(t *testing.T) {
	steps := map[bool]int{}
	for _, bends := range []bool{false, true} {
		f := newFitter(valley{-1.2, 1}, valley{}, nil)
		f.bends = bends
		f.reduce(2, 100)
		if v := f.m.(valley); math.Abs(v.x-1) > 1e-6 || math.Abs(v.y-1) > 1e-6 {
			t.Errorf("bends %v: ends at %v", bends, v)
		}
		steps[bends] = f.steps
	}
	if steps[true] >= steps[false] {
		t.Errorf("%d bent steps, %d straight ones", steps[true], steps[false])
	}
}

// Extra biquads come one at a time and only while the goal is missed.
func TestEnoughSpendsWhatItMust(t *testing.T) {
	for _, c := range []struct {
		as    []biquad.Analog
		goal  float64
		extra int
	}{
		{lr(4, 2000, false), 0.01, 0},
		{many(1, highpass(16000, 8)), 0.01, 1},
		{many(1, highpass(16000, 8)), 2, 0},
	} {
		f := Enough(c.as, 44100, Audible(44100), c.goal, 3)
		if n := len(f.Sections) - len(c.as); n != c.extra || f.Audit.WorstDB > c.goal {
			t.Errorf("+%d and %.3g dB, want +%d within %g dB", n, f.Audit.WorstDB, c.extra, c.goal)
		}
	}
}

// Audible is the usual band at a sampling rate: 20 Hz to 20 kHz, or to 0.46 of
// the rate where that is lower, with a floor of -60 dB.
func Audible(rateHz float64) Band {
	return Band{LowHz: 20, HighHz: math.Min(20000, 0.46*rateHz), FloorDB: -60}
}

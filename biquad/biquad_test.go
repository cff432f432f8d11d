package biquad

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"reflect"
	"testing"
)

// sameResponse is the relative agreement expected of two ways to evaluate one
// response in float64: some tens of roundings, times the distance lost where
// numerator terms cancel in a stop band.
const sameResponse = 1e-11

// randomDigital is a stable section with roots anywhere inside the circle,
// often near z = 1.
func randomDigital(rng *rand.Rand) Digital {
	pair := func() (c1, c2 float64) {
		r := 1 - math.Exp2(-1-14*rng.Float64())
		th := math.Pi * math.Exp2(-10*rng.Float64())
		return -2 * r * math.Cos(th), r * r
	}
	b1, b2 := pair()
	a1, a2 := pair()
	g := 0.1 + rng.Float64()
	return Digital{Form: Direct, B: [3]float64{g, g * b1, g * b2}, A: [3]float64{1, a1, a2}}
}

func TestFormsHoldTheSameSection(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		d := randomDigital(rng)
		for _, f := range []Form{Delta, Mirrored} {
			back := d.To(f).To(Direct)
			for k := range d.B {
				if math.Abs(back.B[k]-d.B[k]) > 1e-15*8 || math.Abs(back.A[k]-d.A[k]) > 1e-15*8 {
					t.Fatalf("%v → %v → %v", d, f, back)
				}
			}
			for _, hz := range []float64{20, 1000, 11999, 12001, 23000} {
				p := PointAt(hz, 48000)
				if g, w := d.To(f).At(p), naive(d, hz, 48000); cmplx.Abs(g-w) > sameResponse*(1+cmplx.Abs(w))*condition(d, hz, 48000) {
					t.Fatalf("%v form at %g Hz: %v, the definition gives %v", f, hz, g, w)
				}
			}
		}
	}
}

// naive is the definition in z⁻¹.
func naive(d Digital, hz, rate float64) complex128 {
	zi := cmplx.Rect(1, -2*math.Pi*hz/rate)
	return (complex(d.B[0], 0) + complex(d.B[1], 0)*zi + complex(d.B[2], 0)*zi*zi) /
		(complex(d.A[0], 0) + complex(d.A[1], 0)*zi + complex(d.A[2], 0)*zi*zi)
}

// condition is how much the naive denominator cancels.
func condition(d Digital, hz, rate float64) float64 {
	zi := cmplx.Rect(1, -2*math.Pi*hz/rate)
	a := complex(d.A[0], 0) + complex(d.A[1], 0)*zi + complex(d.A[2], 0)*zi*zi
	return 4 / cmplx.Abs(a)
}

func TestFirstOrderSectionsKeepTheirOrder(t *testing.T) {
	d := Digital{Form: Delta, B: [3]float64{0.5, 0.25}, A: [3]float64{1, 0.5}}
	z := d.To(Direct)
	if z.Order() != 1 || len(z.Poles()) != 1 || math.Abs(real(z.Poles()[0])-0.5) > 1e-15 {
		t.Fatalf("%+v", z)
	}
	if g := cmplx.Abs(d.At(PointAt(0, 48000))); math.Abs(g-0.5) > 1e-15 {
		t.Fatalf("gain at 0 Hz %v, want b1/a1 = 0.5", g)
	}
	if m := d.PoleMargin(); math.Abs(m-0.5) > 1e-15 {
		t.Fatalf("margin %v", m)
	}
}

func TestPoleMarginNearTheCircle(t *testing.T) {
	// A pole pair at 1 Hz, Q 0.5, at 768 kHz: 1-|z| = 1-exp(-2π/768000) to first
	// orders, from the series 1-exp(-x) = x - x²/2.
	x := 2 * math.Pi / 768000
	u := -math.Expm1(-x)
	d := Digital{Form: Delta, B: [3]float64{1}, A: [3]float64{1, 2 * u, u * u}}
	if m := d.PoleMargin(); math.Abs(m/u-1) > 1e-9 {
		t.Fatalf("margin %g, want %g", m, u)
	}
}

func TestL1OfKnownResponses(t *testing.T) {
	// 1/(1-r·z⁻¹) sums to 1/(1-r); with alternating signs to the same.
	for _, r := range []float64{0.5, -0.9, 0.999} {
		c := Cascade[Digital]{Gain: 2, Slots: []Slot[Digital]{Fixed(Digital{B: [3]float64{1}, A: [3]float64{1, -r}})}}
		if got, want := L1(c, nil), 2/(1-math.Abs(r)); math.Abs(got/want-1) > 1e-8 {
			t.Errorf("r = %g: %g, want %g", r, got, want)
		}
	}
	// A pole so close to the circle that the response outlasts the search:
	// the geometric tail must close it.
	r := 1 - 1e-7
	c := Cascade[Digital]{Gain: 1, Slots: []Slot[Digital]{Fixed(Digital{B: [3]float64{1}, A: [3]float64{1, -r}})}}
	if got, want := L1(c, nil), 1/(1-r); math.Abs(got/want-1) > 1e-6 {
		t.Errorf("tail: %g, want %g", got, want)
	}
}

func TestResponderFollowsEveryCombination(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	axes := []Axis{{0, 3}, {2, 2}, {3, 4}}
	c := Cascade[Digital]{Gain: 0.7, DelayS: 0.0001}
	c.Slots = append(c.Slots, Fixed(randomDigital(rng)))
	for k := range axes {
		s := Slot[Digital]{By: axes[k:], Alt: []Digital{randomDigital(rng), randomDigital(rng), randomDigital(rng)}}
		for range Count(s.By) {
			s.Pick = append(s.Pick, uint8(rng.IntN(3)))
		}
		c.Slots = append(c.Slots, s)
	}
	hz := []float64{30, 700, 9000, 20000}
	r := OnDigital(c, 48000, hz)
	dst := make([]complex128, len(hz))
	n := 0
	Each(Axes(c), 5, func(comb Combination) {
		n++
		r.Response(dst, comb)
		for i, f := range hz {
			want := complex(c.Gain, 0) * cmplx.Rect(1, -2*math.Pi*f*c.DelayS)
			for _, s := range c.Slots {
				want *= s.Alt[s.Index(comb)].At(PointAt(f, 48000))
			}
			if cmplx.Abs(dst[i]-want) > 1e-12*cmplx.Abs(want) {
				t.Fatalf("combination %v at %g Hz: %v, want %v", comb, f, dst[i], want)
			}
		}
	})
	if n != 24 {
		t.Fatalf("%d combinations, want 24", n)
	}
}

// Index and Choices are each other's inverse.
func TestSlotIndexAndChoices(t *testing.T) {
	s := Slot[string]{Alt: []string{"a", "b", "c"}, By: []Axis{{1, 3}, {4, 2}}, Pick: []uint8{0, 1, 2, 0, 1, 1}}
	if got, want := s.Choices(1), [][]int{{0, 1}, {2, 0}, {2, 1}}; !reflect.DeepEqual(got, want) {
		t.Errorf("alternative 1 is picked by %v, not %v", got, want)
	}
	count := 0
	for alt := range s.Alt {
		for _, choices := range s.Choices(alt) {
			c := make(Combination, 5)
			for a, ax := range s.By {
				c[ax.Setting] = uint8(choices[a])
			}
			if got := s.Index(c); got != alt {
				t.Errorf("%v picks %d, not %d", choices, got, alt)
			}
			count++
		}
	}
	if count != Count(s.By) {
		t.Errorf("%d of %d combinations", count, Count(s.By))
	}
	fixed := Fixed("d")
	if fixed.Index(Combination{2, 1}) != 0 || fixed.Choices(0) != nil {
		t.Error("a fixed position has choices")
	}
}

func TestNeighbourMargin(t *testing.T) {
	levels := []float64{0, -15, -40, -21}
	for way, want := range []float64{5, 5, 1, 1} {
		got := NeighbourMarginDB(NeighbourDB, way, len(levels), func(n int) float64 { return levels[n] - levels[way] })
		if got != want {
			t.Errorf("way %d: %g dB, not %g", way, got, want)
		}
	}
	if got := NeighbourMarginDB(NeighbourDB, 0, 1, nil); !math.IsInf(got, -1) {
		t.Errorf("a way by itself has a neighbour: %g", got)
	}
}

func TestAnalogRootsAndNatural(t *testing.T) {
	a := Analog{W0: 100, Keep: 100, B: [3]float64{1, 0, 1}, A: [3]float64{1, 0.2, 1}}
	if w, q := a.Natural(); math.Abs(w-100) > 1e-12 || math.Abs(q-5) > 1e-12 {
		t.Errorf("natural %g, Q %g", w, q)
	}
	for _, p := range a.Poles() {
		if math.Abs(cmplx.Abs(p)-100) > 1e-11 || math.Abs(real(p)+10) > 1e-12 {
			t.Errorf("pole %v", p)
		}
	}
	if g := cmplx.Abs(a.At(100)); g > 1e-15 {
		t.Errorf("the zero pair leaves %g", g)
	}
	if !a.Stable() || (Analog{W0: 1, B: [3]float64{1}, A: [3]float64{1, -1}}).Stable() {
		t.Error("stability")
	}
	// Real roots of very different size keep their digits: (p+1)(p+1e-9).
	b := Analog{W0: 1, B: [3]float64{1}, A: [3]float64{1e-9, 1 + 1e-9, 1}}
	small := math.Inf(1)
	for _, p := range b.Poles() {
		small = math.Min(small, cmplx.Abs(p))
	}
	if math.Abs(small/1e-9-1) > 1e-14 {
		t.Errorf("small root %g", small)
	}
}

func TestDecibels(t *testing.T) {
	// 20·lg 2 = 6.0205999132796239 (any table of logarithms).
	if g := GainDB(2); math.Abs(g-6.020599913279624) > 1e-14 {
		t.Error(g)
	}
	if g := FromDB(6.020599913279624); math.Abs(g-2) > 1e-14 {
		t.Error(g)
	}
	if GainDB(0) != -600 || DB(0) != -600 {
		t.Error("no floor")
	}
	if got := Power(complex(3, -4)); got != 25 {
		t.Error(got)
	}
	// A double pole at 1 rad/s, then at 2 rad/s: at 1 rad/s a half and 4/5.
	one, two := Analog{W0: 1, B: [3]float64{1}, A: [3]float64{1, 2, 1}}, Analog{W0: 2, B: [3]float64{1}, A: [3]float64{1, 2, 1}}
	if got := cmplx.Abs(InSeries([]Analog{one, two}, 1)); math.Abs(got-0.4) > 1e-15 || InSeries(nil, 1) != 1 {
		t.Error(got)
	}
}

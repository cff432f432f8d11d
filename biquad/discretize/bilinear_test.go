package discretize

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"bandwright/biquad"
)

// published are worked bilinear examples with their sources in the file:
// scipy's own tests (sympy values), P. Ramesh Babu, Digital Signal Processing;
// A. Klautau, DSP with Python, Matlab or Octave.
type published struct {
	Bilinear []struct {
		ID     string
		Analog struct {
			Num []float64 `json:"num_desc"`
			Den []float64 `json:"den_desc"`
		}
		T       float64
		Digital struct{ B, A []float64 }
	}
	Warping []struct {
		Analog  float64 `json:"f_analog"`
		FS      float64
		Digital float64 `json:"f_digital_without_prewarp"`
	}
}

func read(t *testing.T) published {
	t.Helper()
	src, err := os.ReadFile("../../golden/published/bilinear_and_fixed_point.json")
	if err != nil {
		t.Fatal(err)
	}
	var p published
	if err := json.Unmarshal(src, &p); err != nil {
		t.Fatal(err)
	}
	if len(p.Bilinear) < 6 || len(p.Warping) < 6 {
		t.Fatal("the file has lost examples")
	}
	return p
}

// unwarped is a Keep (rad/s) so low that prewarping changes nothing.
const unwarped = 1e-9

// exactCoefficient: the examples are exact rationals or sympy values; a handful
// of roundings near one remains.
const exactCoefficient = 1e-14

func TestPublishedBilinearExamples(t *testing.T) {
	for _, ex := range read(t).Bilinear {
		a := biquad.Analog{W0: 1, Keep: unwarped, B: ascending(ex.Analog.Num), A: ascending(ex.Analog.Den)}
		d, err := Bilinear(a, 1/ex.T)
		if err != nil {
			t.Fatal(err)
		}
		d = d.To(biquad.Direct)
		for k := range 3 {
			if math.Abs(d.B[k]-at(ex.Digital.B, k)) > exactCoefficient || math.Abs(d.A[k]-at(ex.Digital.A, k)) > exactCoefficient {
				t.Errorf("%s: b %v a %v, published b %v a %v", ex.ID, d.B, d.A, ex.Digital.B, ex.Digital.A)
				break
			}
		}
	}
}

// The analog response at f appears at the digital frequency fs/π·atan(πf/fs).
func TestPublishedWarping(t *testing.T) {
	for _, ex := range read(t).Warping {
		notch := biquad.Analog{W0: 2 * math.Pi * ex.Analog, Keep: unwarped, B: [3]float64{1, 0, 1}, A: [3]float64{1, 0.1, 1}}
		d, err := Bilinear(notch, ex.FS)
		if err != nil {
			t.Fatal(err)
		}
		z := d.To(biquad.Direct).Zeros()[0]
		if hz := math.Abs(math.Atan2(imag(z), real(z))) / (2 * math.Pi) * ex.FS; math.Abs(hz-ex.Digital) > 1e-5 {
			t.Errorf("%g Hz at %g: zero at %.7f Hz, published %.6f", ex.Analog, ex.FS, hz, ex.Digital)
		}
	}
}

func ascending(desc []float64) (c [3]float64) {
	for i, v := range desc {
		c[len(desc)-1-i] = v
	}
	return c
}

func TestBilinearKeepsTheResponseAtKeep(t *testing.T) {
	for _, rate := range []float64{44100, 48000, 192000, 768000} {
		for _, hz := range []float64{1, 20, 1000, 0.3 * rate, 0.49 * rate} {
			w := 2 * math.Pi * hz
			a := biquad.Analog{W0: 1.3 * w, Keep: w, B: [3]float64{1, 0.2, 0.5}, A: [3]float64{1, 0.3, 1}}
			d, err := Bilinear(a, rate)
			if err != nil {
				t.Fatal(err)
			}
			got, want := d.At(biquad.PointAt(hz, rate)), a.At(w)
			if e := math.Hypot(real(got-want), imag(got-want)); e > 1e-12 {
				t.Errorf("%g Hz at %g: off by %g", hz, rate, e)
			}
		}
	}
	if _, err := Bilinear(biquad.Analog{W0: 1, Keep: math.Pi * 48000, B: [3]float64{1}, A: [3]float64{1, 1}}, 48000); err == nil {
		t.Error("a corner at half the rate passed")
	}
}

// A Butterworth-type high-pass has exact zeros at z = 1 in both forms.
func TestBilinearLeavesNoDust(t *testing.T) {
	a := biquad.Analog{W0: 2 * math.Pi * 22, Keep: 2 * math.Pi * 22, B: [3]float64{0, 0, 1}, A: [3]float64{1, math.Sqrt2, 1}}
	d, _ := Bilinear(a, 48000)
	if d.B[1] != 0 || d.B[2] != 0 {
		t.Errorf("delta form %v", d.B)
	}
	if z := d.To(biquad.Direct); z.B[1] != -2*z.B[0] || z.B[2] != z.B[0] {
		t.Errorf("direct form %v", z.B)
	}
}

// A fractional delay keeps the phase it was asked to keep, with whole samples
// and all-pass sections adding up to it. The check is the definition: the
// phase of a delay of D samples is -ω·D.
func TestDelayKeepsItsPhase(t *testing.T) {
	const limit = 0.5 * math.Pi / 180
	for _, samples := range []float64{0, 3, 4.32, 8.64, 2.5, 1.49, 0.3, 0.001, 137.77} {
		for _, top := range []float64{0.1, 0.5, 1.0} {
			whole, sections := splitDelay(samples, top, limit)
			worst := 0.0
			for i := 1; i <= 200; i++ {
				w := top * float64(i) / 200
				p := biquad.PointAt(w/(2*math.Pi), 1)
				phase := -w * float64(whole)
				for _, s := range sections {
					h := s.At(p)
					if m := math.Hypot(real(h), imag(h)); math.Abs(m-1) > 1e-12 {
						t.Fatalf("%g samples: not an all-pass, |H| = %g", samples, m)
					}
					phase += math.Atan2(imag(h), real(h))
					if s.PoleMargin() <= 0 {
						t.Fatalf("%g samples: unstable", samples)
					}
				}
				worst = math.Max(worst, math.Abs(math.Remainder(phase+w*samples, 2*math.Pi)))
			}
			// A delay of a sample or two leaves room for all-pass sections of
			// low order only, without a common delay to borrow from; it must
			// still beat rounding to whole samples.
			allowed := limit * 1.001
			if samples < 2 {
				allowed = math.Max(allowed, 0.5*top*math.Abs(samples-math.Round(samples)))
			}
			if worst > allowed {
				t.Errorf("%g samples up to %g rad: %d + %d sections leave %.3g°", samples, top, whole, len(sections), worst*180/math.Pi)
			}
		}
	}
}

func TestOrderPutsBoostsLast(t *testing.T) {
	section := func(b, a [3]float64, hz float64) biquad.Slot[biquad.Digital] {
		d, err := Bilinear(biquad.Analog{W0: 2 * math.Pi * hz, Keep: 2 * math.Pi * hz, B: b, A: a}, 48000)
		if err != nil {
			t.Fatal(err)
		}
		return biquad.Fixed(d, "")
	}
	boost := section([3]float64{10, math.Sqrt2 * math.Sqrt(10), 1}, [3]float64{1, math.Sqrt2, 1}, 40)
	cut := section([3]float64{0, 0, 1}, [3]float64{1, math.Sqrt2, 1}, 200)
	if got := inOrder([]biquad.Slot[biquad.Digital]{boost, cut}, 48000); !slices.Equal(got, []int{1, 0}) {
		t.Errorf("order %v: the boost comes before the cut", got)
	}
}

func TestFirstOrderPositionsArePaired(t *testing.T) {
	first := func(r float64, from string) biquad.Slot[biquad.Digital] {
		return biquad.Fixed(biquad.Digital{Form: biquad.Direct, B: [3]float64{1, 0.1}, A: [3]float64{1, -r}}, from)
	}
	in := []biquad.Slot[biquad.Digital]{first(0.5, "a"), first(0.6, "b"), first(0.7, "c")}
	m := &made{cascade: biquad.Cascade[biquad.Digital]{Slots: slices.Clone(in)}}
	m.pairFirstOrder()
	out := m.cascade.Slots
	if len(out) != 2 || !slices.Equal(out[0].From, []string{"a", "b"}) || out[1].From[0] != "c" {
		t.Fatalf("%+v", out)
	}
	p := biquad.PointAt(3000, 48000)
	got, want := out[0].Alt[0].At(p), in[0].Alt[0].At(p)*in[1].Alt[0].At(p)
	if math.Hypot(real(got-want), imag(got-want)) > 1e-14 {
		t.Errorf("the pair responds %v, its parts %v", got, want)
	}
}
